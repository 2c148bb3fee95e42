// Numbers and names as text for the files that the program writes; independent of the locale.
#pragma once
#include <cstddef>
#include <string>
#include <string_view>

namespace jigtrue {

// Fixed-point with so many decimals, rounded to nearest; never "-0.000". Throws std::logic_error for NaN and infinity.
[[nodiscard]] std::string fixed_text(double value, int decimals);
// The same with "+" before positive values; zero carries no sign.
[[nodiscard]] std::string signed_text(double value, int decimals);

// Valid UTF-8: each byte that breaks a sequence becomes U+FFFD.
[[nodiscard]] std::string valid_utf8(std::string_view text);

// For text and double- or single-quoted attributes of XML 1.0 and HTML: & < > " ' escaped, code points that XML forbids
// (control characters, U+FFFE, U+FFFF) and broken UTF-8 replaced by U+FFFD.
[[nodiscard]] std::string markup_text(std::string_view text);

// For ids: every character but ASCII letters, digits, '.', '_' and '-' becomes '_'.
[[nodiscard]] std::string xml_name(std::string_view text);

// For drawn letters: printable ASCII; each other code point, control characters too, becomes '?'.
[[nodiscard]] std::string ascii_text(std::string_view text);

// For terminals: valid UTF-8, so that a name can be copied from there; each control character and each byte that breaks
// a sequence becomes '?'.
[[nodiscard]] std::string terminal_text(std::string_view text);
// The columns that it takes there: one for each code point.
[[nodiscard]] std::size_t terminal_columns(std::string_view text);
// The same text, filled up with spaces to so many columns.
[[nodiscard]] std::string terminal_cell(std::string_view text, std::size_t columns);

}  // namespace jigtrue
