// An SVG file as a tree, with everything refused that would run, fetch or grow. Private to this layer.
#pragma once
#include <cstddef>
#include <pugixml.hpp>
#include <string>
#include <string_view>

namespace jigtrue::svg {

// Throws InputError: not XML, not SVG, too large, too deep, a document type other than SVG's public ones, entities,
// scripts, event handlers, animation, style sheets from outside, references to outside the file.
void load(pugi::xml_document& document, const std::string& text, const std::string& file);

[[nodiscard]] pugi::xml_node root_of(const pugi::xml_document& document);

// The element's name without SVG's own prefix; empty for elements of other namespaces.
class Names {
 public:
  explicit Names(const pugi::xml_node& root);
  [[nodiscard]] std::string_view local(const pugi::xml_node& element) const;

 private:
  std::string prefix_;  // "" or "svg:"
};

// href or xlink:href; empty when there is none.
[[nodiscard]] std::string_view href(const pugi::xml_node& element);

// "drawing.svg: <path id="a">", for messages.
[[nodiscard]] std::string place_of(const std::string& file, const pugi::xml_node& element);

}  // namespace jigtrue::svg
