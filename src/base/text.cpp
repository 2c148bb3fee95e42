#include "jigtrue/base/text.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <stdexcept>

namespace jigtrue {

namespace {

constexpr char32_t kReplacement = 0xFFFD;

struct CodePoint {
  char32_t value = kReplacement;
  std::size_t bytes = 1;
  bool valid = false;
};

std::size_t sequence_length(unsigned char lead) {
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead <= 0xDF) return 2;
  if (lead >= 0xE0 && lead <= 0xEF) return 3;
  if (lead >= 0xF0 && lead <= 0xF4) return 4;
  return 0;
}

// RFC 3629: no overlong forms, no surrogates, nothing beyond U+10FFFF.
CodePoint decode(std::string_view text) {
  const auto lead = static_cast<unsigned char>(text[0]);
  const std::size_t length = sequence_length(lead);
  if (length == 0 || length > text.size()) return {};
  if (length == 1) return {lead, 1, true};
  char32_t value = lead & (0x7Fu >> length);
  for (std::size_t i = 1; i < length; ++i) {
    const auto byte = static_cast<unsigned char>(text[i]);
    if ((byte & 0xC0u) != 0x80u) return {};
    value = (value << 6) | (byte & 0x3Fu);
  }
  const bool overlong = (length == 3 && value < 0x800) || (length == 4 && value < 0x10000);
  const bool surrogate = value >= 0xD800 && value <= 0xDFFF;
  if (overlong || surrogate || value > 0x10FFFF) return {};
  return {value, length, true};
}

template <class Visit>
void for_each_code_point(std::string_view text, Visit visit) {
  while (!text.empty()) {
    const CodePoint point = decode(text);
    visit(point, text.substr(0, point.bytes));
    text.remove_prefix(point.bytes);
  }
}

bool allowed_in_xml(char32_t c) {
  if (c < 0x20) return c == '\t' || c == '\n' || c == '\r';
  if (c >= 0x7F && c <= 0x9F) return false;  // allowed by the letter, but no name is meant to hold them
  return c != 0xFFFE && c != 0xFFFF;
}

constexpr const char* kReplacementUtf8 = "\xEF\xBF\xBD";

}  // namespace

std::string fixed_text(double value, int decimals) {
  if (!std::isfinite(value)) throw std::logic_error("a number that is not finite reached the output");
  std::array<char, 400> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed, decimals);
  std::string text(buffer.data(), end.ptr);
  if (text[0] == '-' && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
  return text;
}

std::string signed_text(double value, int decimals) {
  const std::string text = fixed_text(value, decimals);
  const bool zero = text.find_first_not_of("0.") == std::string::npos;
  return zero || text[0] == '-' ? text : "+" + text;
}

std::string valid_utf8(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for_each_code_point(text, [&out](const CodePoint& point, std::string_view bytes) {
    if (point.valid) {
      out.append(bytes);
    } else {
      out.append(kReplacementUtf8);
    }
  });
  return out;
}

std::string markup_text(std::string_view text) {
  std::string out;
  out.reserve(text.size() + text.size() / 8);
  for_each_code_point(text, [&out](const CodePoint& point, std::string_view bytes) {
    if (!point.valid || !allowed_in_xml(point.value)) {
      out.append(kReplacementUtf8);
      return;
    }
    switch (point.value) {
      case '&':
        out.append("&amp;");
        break;
      case '<':
        out.append("&lt;");
        break;
      case '>':
        out.append("&gt;");
        break;
      case '"':
        out.append("&quot;");
        break;
      case '\'':
        out.append("&#39;");
        break;
      case '\t':
      case '\n':
      case '\r':  // as references, or an attribute's normalisation would turn them into spaces
        out.append("&#" + std::to_string(static_cast<std::uint32_t>(point.value)) + ";");
        break;
      default:
        out.append(bytes);
    }
  });
  return out;
}

std::string xml_name(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const bool plain =
        (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_' || c == '.';
    out.push_back(plain ? c : '_');
  }
  return out;
}

std::string ascii_text(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for_each_code_point(text, [&out](const CodePoint& point, std::string_view) {
    const bool printable = point.valid && point.value >= 0x20 && point.value < 0x7F;
    out.push_back(printable ? static_cast<char>(point.value) : '?');
  });
  return out;
}

std::string terminal_text(std::string_view text) {
  std::string out;
  for_each_code_point(text, [&out](const CodePoint& point, std::string_view bytes) {
    const bool control = point.value < 0x20 || (point.value >= 0x7F && point.value <= 0x9F);
    out.append(point.valid && !control ? bytes : "?");
  });
  return out;
}

std::size_t terminal_columns(std::string_view text) {
  std::size_t columns = 0;
  for_each_code_point(text, [&columns](const CodePoint&, std::string_view) { ++columns; });
  return columns;
}

std::string terminal_cell(std::string_view text, std::size_t columns) {
  std::string out = terminal_text(text);
  const std::size_t taken = terminal_columns(out);
  if (taken < columns) out.append(columns - taken, ' ');
  return out;
}

}  // namespace jigtrue
