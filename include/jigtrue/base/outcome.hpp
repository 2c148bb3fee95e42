// A value, or the reason why there is none. For outcomes that are part of the job (no board here, no edge there).
#pragma once
#include "jigtrue/base/failure.hpp"

#include <stdexcept>
#include <string>
#include <utility>
#include <variant>

namespace jigtrue {

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

  [[nodiscard]] std::string reason() const { return ok() ? std::string() : std::get<Failure>(state_).text; }
  // Asking a sound outcome for its failure is a programmer's mistake, too.
  [[nodiscard]] const Failure& failure() const {
    if (ok()) throw std::logic_error("no failure");
    return std::get<Failure>(state_);
  }

 private:
  void require() const {
    if (!ok()) throw std::logic_error("no value: " + std::get<Failure>(state_).text);
  }
  std::variant<T, Failure> state_;
};

}  // namespace jigtrue
