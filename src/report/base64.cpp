#include "report/base64.hpp"

#include <cstdint>

namespace jigtrue {

std::string base64(const std::string& bytes) {
  constexpr const char* kDigits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  const auto byte = [&bytes](std::size_t i) {
    return i < bytes.size() ? std::uint32_t{static_cast<unsigned char>(bytes[i])} : 0u;
  };
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const std::uint32_t word = (byte(i) << 16) | (byte(i + 1) << 8) | byte(i + 2);
    out.push_back(kDigits[word >> 18]);
    out.push_back(kDigits[(word >> 12) & 63u]);
    out.push_back(i + 1 < bytes.size() ? kDigits[(word >> 6) & 63u] : '=');
    out.push_back(i + 2 < bytes.size() ? kDigits[word & 63u] : '=');
  }
  return out;
}

}  // namespace jigtrue
