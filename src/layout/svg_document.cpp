#include "layout/svg_document.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <array>

#include "layout/drawing_limits.hpp"
#include "layout/svg_values.hpp"

namespace jigtrue::svg {
namespace {

std::string shown(std::string_view text) { return terminal_text(text.size() <= 60 ? text : text.substr(0, 60)); }

// Bounds the tree before it is built: tags cost many times their bytes there. Entities are refused wherever they could
// be declared; the tree's builder knows none but XML's own five and would leave others standing.
void refuse_too_large(std::string_view text, const std::string& file) {
  if (text.size() > kLimits.bytes) throw input_error(file, "is larger than 16 MB", "simplify the drawing");
  const auto tags = static_cast<std::size_t>(std::count(text.begin(), text.end(), '<'));
  if (tags > kLimits.tags) throw input_error(file, "holds more than 400,000 tags", "simplify the drawing");
}

std::size_t line_of(std::string_view text, std::ptrdiff_t offset) {
  const auto end = std::min<std::size_t>(static_cast<std::size_t>(std::max<std::ptrdiff_t>(offset, 0)), text.size());
  return 1 + static_cast<std::size_t>(std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(end), '\n'));
}

// SVG's own public identifiers, which many drawing programs write; nothing is ever fetched for them.
void refuse_doctype(std::string_view declaration, const std::string& file) {
  Cursor cursor(declaration);
  const bool svg = cursor.word() == "svg" && cursor.word() == "PUBLIC" && cursor.peek() == '"';
  std::string_view rest = cursor.rest();
  const bool own = svg && rest.starts_with("\"-//W3C//DTD SVG ") && rest.find('[') == std::string_view::npos;
  if (own) return;
  if (declaration.find('[') != std::string_view::npos || declaration.find("ENTITY") != std::string_view::npos)
    throw input_error(file, "declares entities in its document type", "save the drawing as plain SVG, without them");
  throw input_error(file, "has a document type other than SVG's own", "save the drawing as plain SVG");
}

void refuse_top_level(const pugi::xml_document& document, const std::string& file) {
  int roots = 0;
  for (const pugi::xml_node& node : document.children()) {
    if (node.type() == pugi::node_doctype) refuse_doctype(node.value(), file);
    if (node.type() == pugi::node_pi && std::string_view(node.name()) == "xml-stylesheet")
      throw input_error(file, "asks for a style sheet from outside", "save the drawing as plain SVG");
    if (node.type() == pugi::node_element) ++roots;
  }
  if (roots != 1) throw input_error(file, "does not hold exactly one root element", "save the drawing as SVG again");
}

constexpr std::array<std::string_view, 8> kActive = {"script",           "foreignObject", "animate", "animateMotion",
                                                     "animateTransform", "animateColor",  "set",     "handler"};

void refuse_attributes(const pugi::xml_node& element, std::string_view name, const std::string& file) {
  for (const pugi::xml_attribute& attribute : element.attributes()) {
    const std::string_view key = attribute.name();
    const std::string_view value = trimmed(attribute.value());
    if (key.size() > 2 && (key.starts_with("on") || key.starts_with("ON") || key.starts_with("On")))
      throw input_error(place_of(file, element), "carries an event handler (" + shown(key) + ")",
                        "save the drawing as plain SVG, without scripts");
    if ((key == "href" || key == "xlink:href") && !value.starts_with('#') && !value.empty()) {
      if (name == "image") continue;  // refused as an image, should it be drawn and carry its data
      throw input_error(place_of(file, element), "refers to something outside the file (" + shown(value) + ")",
                        "put all that is to be burned into the one file");
    }
    for (std::size_t at = value.find("url("); at != std::string_view::npos; at = value.find("url(", at + 4)) {
      const std::string_view target = trimmed(value.substr(at + 4));
      if (!target.starts_with('#') && !target.starts_with("\"#") && !target.starts_with("'#"))
        throw input_error(place_of(file, element), "refers to something outside the file (" + shown(value) + ")",
                          "put all that is to be burned into the one file");
    }
  }
}

void refuse_image(const pugi::xml_node& element, const std::string& file) {
  if (href(element).starts_with("data:") || href(element).empty()) return;
  throw input_error(place_of(file, element), "refers to a picture outside the file (" + shown(href(element)) + ")",
                    "trace the picture to outlines, then take the image out");
}

// Looks at every element, drawn or not, without recursion.
void refuse_hostile(const pugi::xml_node& root, const Names& names, const std::string& file) {
  pugi::xml_node node = root;
  std::size_t depth = 1;
  while (true) {
    if (depth > kLimits.levels) throw input_error(file, "is nested deeper than 64 levels", "ungroup the drawing");
    if (node.type() == pugi::node_element) {
      const std::string_view name = names.local(node);
      if (std::find(kActive.begin(), kActive.end(), name) != kActive.end())
        throw input_error(place_of(file, node), "is active content, which is never run",
                          "save the drawing as plain SVG, without scripts, animation and foreign content");
      if (!name.empty()) refuse_attributes(node, name, file);
      if (name == "image") refuse_image(node, file);
    }
    if (const pugi::xml_node child = node.first_child()) {
      node = child;
      ++depth;
      continue;
    }
    while (node != root && !node.next_sibling()) {
      node = node.parent();
      --depth;
    }
    if (node == root) return;
    node = node.next_sibling();
  }
}

}  // namespace

Names::Names(const pugi::xml_node& root) {
  const std::string_view name = root.name();
  const std::size_t colon = name.find(':');
  if (colon != std::string_view::npos) prefix_ = name.substr(0, colon + 1);
}

std::string_view Names::local(const pugi::xml_node& element) const {
  const std::string_view name = element.name();
  if (!name.starts_with(prefix_)) return {};
  const std::string_view rest = name.substr(prefix_.size());
  return rest.find(':') == std::string_view::npos ? rest : std::string_view();
}

std::string_view href(const pugi::xml_node& element) {
  auto attribute = element.attribute("href");
  if (!attribute) attribute = element.attribute("xlink:href");
  return trimmed(attribute.value());
}

std::string place_of(const std::string& file, const pugi::xml_node& element) {
  const std::string_view id = element.attribute("id").value();
  return file + ": <" + shown(element.name()) + (id.empty() ? "" : " id=\"" + shown(id) + "\"") + ">";
}

pugi::xml_node root_of(const pugi::xml_document& document) { return document.document_element(); }

void load(pugi::xml_document& document, const std::string& text, const std::string& file) {
  refuse_too_large(text, file);
  const unsigned flags = pugi::parse_default | pugi::parse_doctype | pugi::parse_pi;
  const pugi::xml_parse_result result = document.load_buffer(text.data(), text.size(), flags);
  if (result.status == pugi::status_bad_doctype)
    throw input_error(file, "has a broken document type", "save the drawing as plain SVG");
  if (!result)
    throw input_error(file + ": line " + std::to_string(line_of(text, result.offset)),
                      "is not well-formed XML (" + std::string(result.description()) + ")",
                      "save the drawing as SVG again");
  refuse_top_level(document, file);
  const pugi::xml_node root = root_of(document);
  const Names names(root);
  if (names.local(root) != "svg")
    throw input_error(file, "is XML, but its root is <" + shown(root.name()) + ">, not <svg>", "give an SVG drawing");
  refuse_hostile(root, names, file);
}

}  // namespace jigtrue::svg
