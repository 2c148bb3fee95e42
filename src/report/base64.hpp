#pragma once
#include <string>

namespace jigtrue {

// RFC 4648 section 4, padded, without line breaks.
[[nodiscard]] std::string base64(const std::string& bytes);

}  // namespace jigtrue
