// The elements of a drawing's file: by id, with their properties and their attributes as numbers.
#pragma once
#include "jigtrue/base/error.hpp"

#include <map>
#include <optional>
#include <string>
#include <string_view>

#include "layout/svg_document.hpp"
#include "layout/svg_style.hpp"
#include "layout/svg_values.hpp"

namespace jigtrue::svg {

class Elements {
 public:
  // Throws InputError where the text is no SVG, as everything here does that the file is to blame for.
  Elements(const std::string& text, std::string file);

  [[nodiscard]] const std::string& file() const { return file_; }
  [[nodiscard]] pugi::xml_node root() const { return root_of(document_); }
  [[nodiscard]] std::string_view name_of(const pugi::xml_node& node) const { return names_->local(node); }
  [[nodiscard]] Properties properties_of(const pugi::xml_node& node);
  // "#id" -> the element. `node`: who refers to it.
  [[nodiscard]] pugi::xml_node target_of(const pugi::xml_node& node, std::string_view reference) const;

  // An attribute in user units; percentages are of `whole`. size_of refuses what is below 0.
  [[nodiscard]] double length_of(const pugi::xml_node& node, const char* name, double whole, double otherwise) const;
  [[nodiscard]] double size_of(const pugi::xml_node& node, const char* name, double whole, double otherwise) const;
  [[nodiscard]] std::optional<ViewBox> view_box_of(const pugi::xml_node& node) const;

  [[nodiscard]] InputError refuse(const pugi::xml_node& node, const std::string& what, const std::string& remedy) const;

 private:
  std::string file_;
  pugi::xml_document document_;
  std::optional<Names> names_;
  StyleSheet sheet_;
  ReadBudget budget_;
  std::map<std::string, pugi::xml_node, std::less<>> by_id_;

  void index();
};

// The shape of a basic element, in user units; percentages are of the viewport `whole`.
[[nodiscard]] std::vector<SubPath> outline_of(const Elements& elements, const pugi::xml_node& node,
                                              const Vector2d& whole);

[[nodiscard]] double diagonal(const Vector2d& viewport);

}  // namespace jigtrue::svg
