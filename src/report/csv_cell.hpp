// One cell of a CSV file (RFC 4180): quoted where it holds a separator, a quote or a line's end.
#pragma once
#include <string>

namespace jigtrue {

[[nodiscard]] inline std::string csv_cell(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"') out.push_back('"');
    out.push_back(c);
  }
  return out + "\"";
}

}  // namespace jigtrue
