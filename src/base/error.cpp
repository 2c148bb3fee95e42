#include "jigtrue/base/error.hpp"

#include <utility>

namespace jigtrue {
namespace {

std::string message_line(const std::string& where, const Failure& failure) {
  std::string line = where + (where.empty() ? "" : ": ") + failure.text;
  if (!failure.remedy.empty()) line += "; " + failure.remedy;
  // What is quoted from a file may hold line breaks and what terminals obey.
  for (char& c : line)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = ' ';
  return line;
}

}  // namespace

InputError::InputError(const std::string& where, Failure failure)
    : std::runtime_error(message_line(where, failure)), failure_(std::move(failure)) {}

InputError input_error(const std::string& where, const std::string& what, const std::string& remedy) {
  return {where, Failure{what, FailureCode::unspecified, remedy}};
}

}  // namespace jigtrue
