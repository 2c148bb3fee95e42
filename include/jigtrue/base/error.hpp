// Errors that a user can mend: a file, a field or an option that breaks a rule.
// Two other kinds stay apart: a programmer's mistake throws std::logic_error; an expected outcome that is not a number
// ("no board in this photo") is an Outcome (outcome.hpp).
#pragma once
#include "jigtrue/base/failure.hpp"

#include <stdexcept>
#include <string>

namespace jigtrue {

// One line: what is wrong, where (file, field, value), what to do. Commands print it and exit with status 2.
class InputError : public std::runtime_error {
 public:
  InputError(const std::string& where, Failure failure);  // "where: text; remedy"; without where if that is empty

  [[nodiscard]] const Failure& failure() const { return failure_; }

 private:
  Failure failure_;
};

[[nodiscard]] InputError input_error(const std::string& where, const std::string& what, const std::string& remedy = {});

}  // namespace jigtrue
