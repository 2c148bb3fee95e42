#include "jigtrue/layout/layout_dxf.hpp"

#include "jigtrue/layout/text.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

constexpr double kTolerance_mm = 0.002;

void pair(std::string& out, int code, const std::string& value) {
  out += std::to_string(code);
  out += '\n';
  out += value;
  out += '\n';
}

void number(std::string& out, int code, double value) { pair(out, code, fixed_text(value, 4)); }

// R12: capitals, digits, '_', '-' and '$', up to 31 of them.
std::string layer_name(const std::string& pass) {
  std::string name;
  for (char c : xml_name(pass.empty() ? "design" : pass).substr(0, 31)) {
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
    name.push_back(c == '.' ? '_' : c);
  }
  return name;
}

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

void polyline(std::string& out, const Polyline2d& line, bool closed, const std::string& layer, const ToBed& to_bed) {
  if (line.size() < 2) return;
  pair(out, 0, "POLYLINE");
  pair(out, 8, layer);
  pair(out, 66, "1");
  for (const int code : {10, 20, 30}) number(out, code, 0.0);
  pair(out, 70, closed ? "1" : "0");
  for (const Vector2d& point : line) {
    const Vector2d bed = to_bed(point);
    pair(out, 0, "VERTEX");
    pair(out, 8, layer);
    number(out, 10, bed.x());
    number(out, 20, bed.y());
    number(out, 30, 0.0);
  }
  pair(out, 0, "SEQEND");
  pair(out, 8, layer);
}

void entities(std::string& out, const PlacedDesign& placed) {
  const ToBed to_bed(placed);
  if (placed.passes) {
    for (const Pass& pass : *placed.passes)
      for (const InkShape& shape : pass.shapes)
        for (const SubPath& path : shape.outline)
          polyline(out, flattened(path, kTolerance_mm), path.closed, layer_name(pass.name), to_bed);
  } else if (placed.design) {
    const Vector2d half(placed.design->width_mm / 2.0, placed.design->height_mm / 2.0);
    polyline(out, {-half, {half.x(), -half.y()}, half, {-half.x(), half.y()}}, true, layer_name(""), to_bed);
  }
}

std::vector<std::string> layers_of(const Placement& placement) {
  std::vector<std::string> names;
  const auto add = [&names](const std::string& name) {
    if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
  };
  for (const PlacedDesign& placed : placement.placed) {
    if (!placed.passes)
      add(layer_name(""));
    else
      for (const Pass& pass : *placed.passes) add(layer_name(pass.name));
  }
  return names;
}

void header(std::string& out, const Page& page) {
  pair(out, 999, "jigtrue: millimetres, bed frame, (0, 0) is the machine's own origin");
  pair(out, 0, "SECTION");
  pair(out, 2, "HEADER");
  pair(out, 9, "$ACADVER");
  pair(out, 1, "AC1009");
  pair(out, 9, "$INSUNITS");
  pair(out, 70, "4");
  const Vector2d high = page.lower_left_mm + page.size_mm;
  pair(out, 9, "$EXTMIN");
  number(out, 10, page.lower_left_mm.x());
  number(out, 20, page.lower_left_mm.y());
  number(out, 30, 0.0);
  pair(out, 9, "$EXTMAX");
  number(out, 10, high.x());
  number(out, 20, high.y());
  number(out, 30, 0.0);
  pair(out, 0, "ENDSEC");
}

// Colours 1 to 6 are the plain ones of the DXF palette: passes come out apart in programs that go by colour.
void tables(std::string& out, const std::vector<std::string>& layers) {
  pair(out, 0, "SECTION");
  pair(out, 2, "TABLES");
  pair(out, 0, "TABLE");
  pair(out, 2, "LTYPE");
  pair(out, 70, "1");
  pair(out, 0, "LTYPE");
  pair(out, 2, "CONTINUOUS");
  pair(out, 70, "0");
  pair(out, 3, "Solid line");
  pair(out, 72, "65");
  pair(out, 73, "0");
  number(out, 40, 0.0);
  pair(out, 0, "ENDTAB");
  pair(out, 0, "TABLE");
  pair(out, 2, "LAYER");
  pair(out, 70, std::to_string(layers.size()));
  for (std::size_t i = 0; i < layers.size(); ++i) {
    pair(out, 0, "LAYER");
    pair(out, 2, layers[i]);
    pair(out, 70, "0");
    pair(out, 62, std::to_string(1 + i % 6));
    pair(out, 6, "CONTINUOUS");
  }
  pair(out, 0, "ENDTAB");
  pair(out, 0, "ENDSEC");
}

}  // namespace

std::string layout_dxf(const Placement& placement) {
  std::string out;
  header(out, placement.page);
  tables(out, layers_of(placement));
  pair(out, 0, "SECTION");
  pair(out, 2, "ENTITIES");
  for (const PlacedDesign& placed : placement.placed) entities(out, placed);
  pair(out, 0, "ENDSEC");
  pair(out, 0, "EOF");
  return out;
}

}  // namespace jigtrue
