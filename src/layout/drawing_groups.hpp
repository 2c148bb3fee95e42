// The groups of a drawing that stand for slots: where they are in the file, and where their ink lies. Private to this
// layer.
#pragma once
#include "jigtrue/layout/artwork.hpp"

#include <functional>
#include <string>
#include <vector>

#include "layout/svg_values.hpp"

namespace jigtrue::svg {

struct DrawingGroup {
  std::size_t name_at = 0;  // byte in the file where the element's name starts
  std::string id;
  std::string data_slot;
  std::string transform;
  Affine page_from_parent = Affine::Identity();  // mm, y down
  InkBox ink;                                    // page; empty when it holds only what this reader does not measure
  std::vector<InkShape> shapes;                  // page
  bool inside_another = false;
  bool placed_before = false;  // carries what layouts and corrected layouts put on a slot's group
};

struct DrawingGroups {
  Vector2d page_mm = Vector2d::Zero();
  std::vector<DrawingGroup> groups;  // those that `wanted` says yes to, in the file's order
};

// Hostile files are refused as ever; text, pictures and paints that cannot be measured are passed over.
[[nodiscard]] DrawingGroups drawing_groups(const std::string& svg_text, const std::string& file,
                                           const std::function<bool(const DrawingGroup&)>& wanted);

}  // namespace jigtrue::svg
