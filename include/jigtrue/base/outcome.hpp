// A value, or the reason why there is none. For outcomes that are part of the job (no board here, no edge there).
#pragma once
#include <stdexcept>
#include <string>
#include <utility>
#include <variant>

namespace jigtrue {

struct Failure {
  std::string reason;  // one clause in plain words, without a final stop
};

template <class T>
class [[nodiscard]] Outcome {
 public:
  Outcome(T value) : state_(std::move(value)) {}  // NOLINT(google-explicit-constructor): reads as a return value
  Outcome(Failure failure) : state_(std::move(failure)) {}  // NOLINT(google-explicit-constructor)

  [[nodiscard]] bool ok() const { return std::holds_alternative<T>(state_); }
  explicit operator bool() const { return ok(); }

  // Asking a failed outcome for its value is a programmer's mistake: throws std::logic_error with the reason.
  [[nodiscard]] const T& value() const& {
    require();
    return std::get<T>(state_);
  }
  [[nodiscard]] T& value() & {
    require();
    return std::get<T>(state_);
  }
  [[nodiscard]] T&& value() && {
    require();
    return std::get<T>(std::move(state_));
  }
  [[nodiscard]] const T& operator*() const& { return value(); }
  [[nodiscard]] T& operator*() & { return value(); }
  [[nodiscard]] const T* operator->() const { return &value(); }
  [[nodiscard]] T* operator->() { return &value(); }

  [[nodiscard]] std::string reason() const { return ok() ? std::string() : std::get<Failure>(state_).reason; }

 private:
  void require() const {
    if (!ok()) throw std::logic_error("no value: " + std::get<Failure>(state_).reason);
  }
  std::variant<T, Failure> state_;
};

}  // namespace jigtrue
