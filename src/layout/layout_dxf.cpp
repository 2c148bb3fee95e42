#include "jigtrue/layout/layout_dxf.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "layout/dxf_frame.hpp"
#include "layout/flatten.hpp"

namespace jigtrue {
namespace {

// with the rounding to 0.0001 mm, still the same to 0.001 mm as the curves of layout.svg
constexpr double kFlatness_mm = 0.0008;
constexpr std::size_t kMostDxfPoints = 20'000'000;  // some 600 MB

// By pass, in the order of burning; names that would become one layer are kept apart.
class Layers {
 public:
  explicit Layers(const Placement& placement) {
    for (const PlacedDesign& placed : placement.placed) {
      if (!placed.passes)
        add("");
      else
        for (const Pass& pass : *placed.passes) add(pass.name);
    }
  }
  [[nodiscard]] const std::string& of(const std::string& pass) const {
    const auto found = std::find(passes_.begin(), passes_.end(), pass);
    return names_[static_cast<std::size_t>(found - passes_.begin())];
  }
  [[nodiscard]] const std::vector<std::string>& names() const { return names_; }

 private:
  // Capitals, digits, '_' and '-': what every release and importer takes.
  static std::string layer_name(const std::string& pass) {
    std::string name;
    for (char c : xml_name(pass.empty() ? "design" : pass).substr(0, 31)) {
      if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
      name.push_back(c == '.' ? '_' : c);
    }
    return name;
  }
  void add(const std::string& pass) {
    if (std::find(passes_.begin(), passes_.end(), pass) != passes_.end()) return;
    const std::string base = layer_name(pass);
    std::string name = base;
    for (int n = 2; std::find(names_.begin(), names_.end(), name) != names_.end(); ++n)
      name = base.substr(0, 28) + "-" + std::to_string(n);
    passes_.push_back(pass);
    names_.push_back(name);
  }

  std::vector<std::string> passes_;
  std::vector<std::string> names_;
};

// From the slot's own frame (y down, as drawings have it) to the bed.
class ToBed {
 public:
  explicit ToBed(const PlacedDesign& placed)
      : centre_(placed.bed_centre_mm),
        cos_(std::cos(rad_from_deg(placed.axis_deg))),
        sin_(std::sin(rad_from_deg(placed.axis_deg))) {}
  Vector2d operator()(const Vector2d& p) const {
    return centre_ + Vector2d(cos_ * p.x() + sin_ * p.y(), sin_ * p.x() - cos_ * p.y());
  }

 private:
  Vector2d centre_;
  double cos_;
  double sin_;
};

void polyline(DxfWriter& out, const Polyline2d& line, bool closed, const std::string& layer, const ToBed& to_bed,
              const DxfSpaces& spaces) {
  if (line.size() < 2) return;
  out.object("LWPOLYLINE", spaces.model);
  out.pair(100, "AcDbEntity");
  out.pair(8, layer);
  out.pair(100, "AcDbPolyline");
  out.pair(90, std::to_string(line.size()));
  out.pair(70, closed ? "1" : "0");
  for (const Vector2d& point : line) out.point(10, to_bed(point));
}

void entities(DxfWriter& out, const PlacedDesign& placed, const Layers& layers, const DxfSpaces& spaces) {
  const ToBed to_bed(placed);
  if (placed.passes) {
    for (const Pass& pass : *placed.passes)
      for (const InkShape& shape : pass.shapes)
        for (const SubPath& path : shape.outline)
          polyline(out, flattened(path, kFlatness_mm), path.closed, layers.of(pass.name), to_bed, spaces);
  } else if (placed.design) {
    const Vector2d half(placed.design->width_mm / 2.0, placed.design->height_mm / 2.0);
    polyline(out, {-half, {half.x(), -half.y()}, half, {-half.x(), half.y()}}, true, layers.of(""), to_bed, spaces);
  }
}

std::size_t points_of(const Placement& placement) {
  std::size_t points = 0;
  for (const PlacedDesign& placed : placement.placed) {
    if (!placed.passes) continue;
    for (const Pass& pass : *placed.passes)
      for (const InkShape& shape : pass.shapes)
        for (const SubPath& path : shape.outline) points += svg::flattened_points(path, kFlatness_mm);
  }
  return points;
}

// Colours 1 to 6 are the plain ones of the DXF palette: passes come out apart in programs that go by colour.
void layer_table(DxfWriter& out, const Layers& layers) {
  const std::string table = out.table("LAYER", layers.names().size() + 1);
  const auto layer = [&](const std::string& name, int colour) {
    out.record("LAYER", table, "AcDbLayerTableRecord", name);
    out.pair(70, "0");
    out.pair(62, std::to_string(colour));
    out.pair(6, "Continuous");
  };
  layer("0", 7);
  for (std::size_t i = 0; i < layers.names().size(); ++i) layer(layers.names()[i], static_cast<int>(1 + i % 6));
  out.end_table();
}

}  // namespace

std::string layout_dxf(const Placement& placement) {
  if (points_of(placement) > kMostDxfPoints)
    throw input_error("layout.dxf", "would hold more than 20,000,000 points: the drawing's curves, once for each slot",
                      "simplify the drawing, or place fewer slots at a time");
  const Layers layers(placement);
  DxfWriter out;
  out.section("TABLES");
  dxf_viewport(out, placement.page);
  dxf_line_types(out);
  layer_table(out, layers);
  dxf_other_tables(out);
  const DxfSpaces spaces = dxf_block_records(out);
  out.end_section();
  dxf_blocks(out, spaces);
  out.section("ENTITIES");
  for (const PlacedDesign& placed : placement.placed) entities(out, placed, layers, spaces);
  out.end_section();
  dxf_dictionaries(out);
  const std::string seed = out.next_handle();
  return dxf_header(placement.page, seed) + out.text() + "0\nEOF\n";
}

}  // namespace jigtrue
