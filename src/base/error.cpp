#include "jigtrue/base/error.hpp"

namespace jigtrue {

InputError input_error(const std::string& where, const std::string& what, const std::string& remedy) {
  std::string line = where + ": " + what + (remedy.empty() ? "" : "; " + remedy);
  // What is quoted from a file may hold line breaks and what terminals obey.
  for (char& c : line)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = ' ';
  return InputError(line);
}

}  // namespace jigtrue
