#include "layout/svg_elements.hpp"

#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "layout/svg_path.hpp"

namespace jigtrue::svg {
namespace {

// The node that comes next in the file; none after the last below `root`.
pugi::xml_node after(pugi::xml_node node, const pugi::xml_node& root) {
  if (const pugi::xml_node child = node.first_child()) return child;
  while (node != root && !node.next_sibling()) node = node.parent();
  return node == root ? pugi::xml_node() : node.next_sibling();
}

}  // namespace

Elements::Elements(const std::string& text, std::string file) : file_(std::move(file)) {
  load(document_, text, file_);
  names_.emplace(root_of(document_));
  index();
}

// Ids and style sheets of the whole file as they stand, without recursion.
void Elements::index() {
  const pugi::xml_node root = this->root();
  pugi::xml_node node = root;
  while (node) {
    if (const auto id = node.attribute("id")) by_id_.emplace(id.value(), node);
    if (name_of(node) == "style") {
      std::string css;
      for (const pugi::xml_node& part : node.children()) css += part.value();
      sheet_.add(css, place_of(file_, node));
    }
    node = after(node, root);
  }
  sheet_.sort();
}

Properties Elements::properties_of(const pugi::xml_node& node) {
  return own_properties(node, name_of(node), sheet_, budget_, place_of(file_, node));
}

pugi::xml_node Elements::target_of(const pugi::xml_node& node, std::string_view reference) const {
  reference.remove_prefix(std::min<std::size_t>(1, reference.size()));
  const auto found = by_id_.find(reference);
  if (found == by_id_.end())
    throw refuse(node, "refers to #" + terminal_text(reference.substr(0, 60)) + ", which is not in the file",
                 "mend the drawing");
  return found->second;
}

double Elements::length_of(const pugi::xml_node& node, const char* name, double whole, double otherwise) const {
  const auto attribute = node.attribute(name);
  if (!attribute) return otherwise;
  const auto value = length(attribute.value(), whole);
  if (!value)
    throw refuse(node,
                 std::string(name) + " is \"" + terminal_text(std::string_view(attribute.value()).substr(0, 40)) +
                     "\", not a length",
                 "use mm, cm, in, pt, pc, px, % or a plain number of ordinary size");
  return *value;
}

double Elements::size_of(const pugi::xml_node& node, const char* name, double whole, double otherwise) const {
  const double value = length_of(node, name, whole, otherwise);
  if (value < 0.0) throw refuse(node, std::string(name) + " is negative", "mend the drawing");
  return value;
}

std::optional<ViewBox> Elements::view_box_of(const pugi::xml_node& node) const {
  const auto attribute = node.attribute("viewBox");
  if (!attribute) return std::nullopt;
  auto box = view_box(attribute.value());
  if (!box) throw refuse(node, "viewBox is not four numbers with a size above 0", "mend or leave out the viewBox");
  return box;
}

InputError Elements::refuse(const pugi::xml_node& node, const std::string& what, const std::string& remedy) const {
  return input_error(place_of(file_, node), what, remedy);
}

double diagonal(const Vector2d& viewport) { return viewport.norm() / std::sqrt(2.0); }

std::vector<SubPath> outline_of(const Elements& elements, const pugi::xml_node& node, const Vector2d& whole) {
  const std::string_view name = elements.name_of(node);
  const auto x = [&](const char* key) { return elements.length_of(node, key, whole.x(), 0.0); };
  const auto y = [&](const char* key) { return elements.length_of(node, key, whole.y(), 0.0); };
  if (name == "path") {
    auto paths = path_data(node.attribute("d").value());
    if (!paths)
      throw elements.refuse(node, "its path data is malformed, or holds a number or a count too large",
                            "save the drawing again");
    return *std::move(paths);
  }
  if (name == "rect") {
    const Vector2d size(elements.size_of(node, "width", whole.x(), 0.0),
                        elements.size_of(node, "height", whole.y(), 0.0));
    if (!(size.minCoeff() > 0.0)) return {};
    const double rx = elements.size_of(node, "rx", whole.x(), elements.size_of(node, "ry", whole.y(), 0.0));
    const double ry = elements.size_of(node, "ry", whole.y(), rx);
    return {rounded_rectangle({x("x"), y("y")}, size, {rx, ry})};
  }
  if (name == "circle" || name == "ellipse") {
    const double r = elements.size_of(node, "r", diagonal(whole), 0.0);
    const Vector2d radii = name == "circle" ? Vector2d(r, r)
                                            : Vector2d(elements.size_of(node, "rx", whole.x(), 0.0),
                                                       elements.size_of(node, "ry", whole.y(), 0.0));
    if (!(radii.minCoeff() > 0.0)) return {};
    return {ellipse({x("cx"), y("cy")}, radii)};
  }
  if (name == "line") return {polygon({{x("x1"), y("y1")}, {x("x2"), y("y2")}}, false)};
  if (name == "polyline" || name == "polygon") {
    const auto corners = points(node.attribute("points").value());
    if (!corners) throw elements.refuse(node, "its points cannot be read", "save the drawing again");
    if (corners->size() < 2) return {};
    return {polygon(*corners, name == "polygon")};
  }
  throw elements.refuse(node, "is an element that this reader does not know",
                        "convert it to paths and save as plain SVG");
}

}  // namespace jigtrue::svg
