// Changes of an SVG file's bytes that leave all else as it was written. The XML reader has passed the text before.
#pragma once
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace jigtrue::svg {

// Where a start tag's transform stands among the file's bytes.
struct StartTag {
  std::size_t name_end = 0;
  std::size_t value_begin = std::string::npos;  // of transform, inside its quotes
  std::size_t value_end = std::string::npos;
  std::size_t end = 0;  // just behind '>'
  bool empty = false;   // <g .../>
};
// `name_at`: where the tag's name begins.
[[nodiscard]] StartTag start_tag(std::string_view text, std::size_t name_at);

// Just behind the end tag of the element whose start tag ends here.
[[nodiscard]] std::size_t element_end(std::string_view text, const StartTag& tag);

struct Edit {
  std::size_t begin = 0;
  std::size_t end = 0;
  std::string text;
};
// Edits do not overlap.
[[nodiscard]] std::string edited(std::string_view text, std::vector<Edit> edits);

}  // namespace jigtrue::svg
