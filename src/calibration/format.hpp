// Sentences with numbers in them.
#pragma once
#include <cstdio>
#include <string>

namespace jigtrue {

// As printf, up to 300 bytes.
template <class... Numbers>
[[nodiscard]] std::string format(const char* pattern, Numbers... numbers) {
  char text[300];
  std::snprintf(text, sizeof text, pattern, numbers...);
  return text;
}

}  // namespace jigtrue
