#include "jigtrue/base/error.hpp"

namespace jigtrue {

InputError input_error(const std::string& where, const std::string& what, const std::string& remedy) {
  return InputError(where + ": " + what + (remedy.empty() ? "" : "; " + remedy));
}

}  // namespace jigtrue
