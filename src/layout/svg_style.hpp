// How SVG's properties reach an element: presentation attributes, style sheets, style attributes. Private to this
// layer.
#pragma once
#include "jigtrue/layout/artwork.hpp"

#include <map>
#include <pugixml.hpp>
#include <string>
#include <string_view>
#include <vector>

namespace jigtrue::svg {

using Properties = std::map<std::string, std::string, std::less<>>;

// What reading one drawing may cost: a use reads an element anew, and every style rule looks at every element. Counted
// in bytes looked at; spent as it goes.
struct ReadBudget {
  std::size_t bytes = 400'000'000;
  // Throws InputError when it is spent.
  void spend(std::size_t cost, const std::string& where);
};

// Selectors of one element name, classes and an id ("path.cut", "#frame", "*"), without combinators.
class StyleSheet {
 public:
  // Adds the rules of a <style> element. Throws InputError for what it cannot honour: at-rules, combinators, url(...).
  void add(std::string_view css, const std::string& where);
  // Once all are added: the strongest last.
  void sort();
  // Rules that match, the strongest last.
  void apply(const pugi::xml_node& element, std::string_view local_name, Properties& properties, ReadBudget& budget,
             const std::string& where) const;

 private:
  struct Rule {
    std::string element;
    std::string id;
    std::vector<std::string> classes;
    int weight = 0;
    Properties declarations;
    [[nodiscard]] bool matches(std::string_view local_name, std::string_view own_id,
                               const std::vector<std::string_view>& own_classes) const;
  };
  static Rule selector(std::string_view text, const std::string& where);
  std::vector<Rule> rules_;  // sorted: by weight, then as they stand
};

// All properties set on this very element, by falling strength: style attribute, sheets, attributes of its own. Throws
// InputError for values longer than any that can be meant.
[[nodiscard]] Properties own_properties(const pugi::xml_node& element, std::string_view local_name,
                                        const StyleSheet& sheet, ReadBudget& budget, const std::string& where);

}  // namespace jigtrue::svg
