#include "layout/svg_style.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <array>
#include <cstring>

#include "layout/drawing_limits.hpp"
#include "layout/svg_values.hpp"

namespace jigtrue::svg {
namespace {

constexpr const char* kPlain = "save the drawing as plain SVG with presentation attributes";

constexpr std::array<std::string_view, 25> kKnown = {
    "fill",           "fill-rule",       "fill-opacity",      "stroke",           "stroke-width", "stroke-opacity",
    "stroke-linecap", "stroke-linejoin", "stroke-miterlimit", "stroke-dasharray", "opacity",      "display",
    "visibility",     "color",           "clip-path",         "clip-rule",        "mask",         "filter",
    "marker",         "marker-start",    "marker-mid",        "marker-end",       "overflow",     "vector-effect",
    "transform"};

bool known(std::string_view name) { return std::find(kKnown.begin(), kKnown.end(), name) != kKnown.end(); }

// Values are handed down to every element below: no colour, width or reference is this long.
void set(Properties& properties, std::string_view name, std::string_view value, const std::string& where) {
  if (value.size() > kLimits.value_bytes)
    throw input_error(where, "its " + std::string(name) + " is longer than 1000 characters", kPlain);
  properties.insert_or_assign(std::string(name), std::string(value));
}

std::size_t bytes_of(const pugi::xml_node& element) {
  std::size_t bytes = 0;
  for (const pugi::xml_attribute& attribute : element.attributes())
    bytes += 16 + std::strlen(attribute.name()) + std::strlen(attribute.value());
  return bytes;
}

std::string without_comments(std::string_view css, const std::string& where) {
  std::string out;
  while (!css.empty()) {
    const std::size_t at = css.find("/*");
    out += css.substr(0, at);
    if (at == std::string_view::npos) break;
    const std::size_t end = css.find("*/", at + 2);
    if (end == std::string_view::npos) throw input_error(where, "a comment in a style does not end", kPlain);
    css.remove_prefix(end + 2);
  }
  return out;
}

void read_declarations(std::string_view text, Properties& out, const std::string& where) {
  for (const std::string_view declaration : split(text, ';')) {
    if (declaration.empty()) continue;
    const std::size_t colon = declaration.find(':');
    if (colon == std::string_view::npos) throw input_error(where, "a style declaration has no value", kPlain);
    const std::string_view name = trimmed(declaration.substr(0, colon));
    std::string_view value = trimmed(declaration.substr(colon + 1));
    if (value.ends_with("!important")) value = trimmed(value.substr(0, value.size() - 10));
    if (name == "transform")
      throw input_error(where, "a transform stands in a style", "write it as the element's transform attribute");
    if (known(name)) set(out, name, value, where);
  }
}

bool plain_name(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_' ||
           static_cast<unsigned char>(c) >= 0x80;
  });
}

}  // namespace

void ReadBudget::spend(std::size_t cost, const std::string& where) {
  if (cost > bytes)
    throw input_error(where, "takes too long to read: uses or style rules multiply what it holds",
                      "simplify the drawing");
  bytes -= cost;
}

bool StyleSheet::Rule::matches(std::string_view local_name, std::string_view own_id,
                               const std::vector<std::string_view>& own_classes) const {
  if (!element.empty() && element != local_name) return false;
  if (!id.empty() && id != own_id) return false;
  return std::all_of(classes.begin(), classes.end(), [&](const std::string& each) {
    return std::find(own_classes.begin(), own_classes.end(), each) != own_classes.end();
  });
}

StyleSheet::Rule StyleSheet::selector(std::string_view text, const std::string& where) {
  const auto refuse = [&] {
    return input_error(where, "the style selector \"" + std::string(text.substr(0, 60)) + "\" is beyond this reader",
                       kPlain);
  };
  Rule rule;
  std::string_view rest = text;
  while (!rest.empty()) {
    const char kind = rest.front() == '.' || rest.front() == '#' ? rest.front() : ' ';
    if (kind != ' ') rest.remove_prefix(1);
    const std::size_t end = rest.find_first_of(".#");
    const std::string_view name = rest.substr(0, end);
    rest.remove_prefix(name.size());
    const bool any = kind == ' ' && name == "*";
    if (!any && !plain_name(name)) throw refuse();
    if (kind == '.') rule.classes.emplace_back(name);
    if (kind == '#') rule.id = name;
    if (kind == ' ' && !any) rule.element = name;
    rule.weight += kind == '#' ? 10'000 : kind == '.' ? 100 : any ? 0 : 1;
  }
  if (text.empty()) throw refuse();
  return rule;
}

void StyleSheet::add(std::string_view css, const std::string& where) {
  const std::string clean = without_comments(css, where);
  std::string_view rest = trimmed(clean);
  while (!rest.empty()) {
    if (rest.front() == '@')
      throw input_error(where, "the style sheet holds an at-rule (" + std::string(rest.substr(0, 20)) + ")", kPlain);
    const std::size_t open = rest.find('{');
    const std::size_t close = rest.find('}');
    if (open == std::string_view::npos || close == std::string_view::npos || close < open)
      throw input_error(where, "the style sheet is malformed", kPlain);
    Properties declarations;
    read_declarations(rest.substr(open + 1, close - open - 1), declarations, where);
    for (const std::string_view each : split(rest.substr(0, open), ',')) {
      Rule rule = selector(each, where);
      rule.declarations = declarations;
      rules_.push_back(std::move(rule));
      if (rules_.size() > kLimits.style_rules) throw input_error(where, "more than 2000 style rules", kPlain);
    }
    rest = trimmed(rest.substr(close + 1));
  }
}

void StyleSheet::sort() {
  std::stable_sort(rules_.begin(), rules_.end(), [](const Rule& a, const Rule& b) { return a.weight < b.weight; });
}

void StyleSheet::apply(const pugi::xml_node& element, std::string_view local_name, Properties& properties,
                       ReadBudget& budget, const std::string& where) const {
  if (rules_.empty()) return;
  const std::string_view id = element.attribute("id").value();
  const std::vector<std::string_view> classes = words(element.attribute("class").value());
  for (const Rule& rule : rules_) {
    budget.spend(8 + rule.classes.size() * 8 * classes.size(), where);
    if (!rule.matches(local_name, id, classes)) continue;
    for (const auto& [name, value] : rule.declarations) {
      budget.spend(64 + value.size(), where);
      properties.insert_or_assign(name, value);
    }
  }
}

Properties own_properties(const pugi::xml_node& element, std::string_view local_name, const StyleSheet& sheet,
                          ReadBudget& budget, const std::string& where) {
  budget.spend(4 * bytes_of(element), where);  // numbers take longer to read than names to compare
  Properties out;
  for (const pugi::xml_attribute& attribute : element.attributes())
    if (known(attribute.name()) && std::string_view(attribute.name()) != "transform")
      set(out, attribute.name(), trimmed(attribute.value()), where);
  sheet.apply(element, local_name, out, budget, where);
  if (const auto style = element.attribute("style"))
    read_declarations(without_comments(style.value(), where), out, where);
  return out;
}

}  // namespace jigtrue::svg
