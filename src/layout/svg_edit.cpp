#include "layout/svg_edit.hpp"

#include <algorithm>
#include <stdexcept>

namespace jigtrue::svg {
namespace {

bool is_space(char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }

}  // namespace

StartTag start_tag(std::string_view text, std::size_t name_at) {
  StartTag tag;
  std::size_t i = name_at;
  while (i < text.size() && !is_space(text[i]) && text[i] != '>' && text[i] != '/') ++i;
  tag.name_end = i;
  while (i < text.size() && text[i] != '>') {
    if (is_space(text[i]) || text[i] == '/') {
      ++i;
      continue;
    }
    const std::size_t name = i;
    while (i < text.size() && text[i] != '=' && !is_space(text[i])) ++i;
    const std::string_view key = text.substr(name, i - name);
    while (i < text.size() && text[i] != '"' && text[i] != '\'') ++i;
    const std::size_t open = i;
    const std::size_t close = open < text.size() ? text.find(text[open], open + 1) : std::string_view::npos;
    if (close == std::string_view::npos) throw std::logic_error("a checked start tag has no end");
    if (key == "transform") {
      tag.value_begin = open + 1;
      tag.value_end = close;
    }
    i = close + 1;
  }
  tag.empty = text[i - 1] == '/';
  tag.end = i + 1;
  return tag;
}

std::size_t element_end(std::string_view text, const StartTag& tag) {
  if (tag.empty) return tag.end;
  std::size_t depth = 1;
  std::size_t i = tag.end;
  while (depth > 0) {
    i = text.find('<', i);
    if (i == std::string_view::npos) throw std::logic_error("a checked element has no end");
    const std::string_view rest = text.substr(i);
    if (rest.starts_with("<!--")) {
      i = text.find("-->", i) + 3;
    } else if (rest.starts_with("<![CDATA[")) {
      i = text.find("]]>", i) + 3;
    } else if (rest.starts_with("<?")) {
      i = text.find("?>", i) + 2;
    } else if (rest.starts_with("</")) {
      --depth;
      i = text.find('>', i) + 1;
    } else {
      const StartTag inner = start_tag(text, i + 1);
      if (!inner.empty) ++depth;
      i = inner.end;
    }
  }
  return i;
}

std::string edited(std::string_view text, std::vector<Edit> edits) {
  std::sort(edits.begin(), edits.end(), [](const Edit& a, const Edit& b) { return a.begin < b.begin; });
  std::string out;
  std::size_t at = 0;
  for (const Edit& edit : edits) {
    out += text.substr(at, edit.begin - at);
    out += edit.text;
    at = edit.end;
  }
  out += text.substr(at);
  return out;
}

}  // namespace jigtrue::svg
