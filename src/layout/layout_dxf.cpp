#include "jigtrue/layout/layout_dxf.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <vector>

#include "layout/flatten.hpp"

namespace jigtrue {
namespace {

// with the rounding to 0.0001 mm, still the same to 0.001 mm as the curves of layout.svg
constexpr double kFlatness_mm = 0.0008;
constexpr std::size_t kMostDxfPoints = 20'000'000;  // some 600 MB

// Why no library writes this: dxflib would put the whole program under the GPL, GDAL's own header says inches
// and brings some 65 packages, dime keeps six digits and leaves out what makes a file of AC1015 one.
//
// Symbol tables and their records, blocks and dictionaries all carry handles and their owners' handles (DXF reference,
// version AC1015). What a file must hold beside its entities: the ezdxf manual, "Minimal DXF content".
class Writer {
 public:
  void pair(int code, const std::string& value) {
    text_ += std::to_string(code);
    text_ += '\n';
    text_ += value;
    text_ += '\n';
  }
  void number(int code, double value) { pair(code, fixed_text(value, 4)); }
  void point(int code, const Vector2d& p) {
    number(code, p.x());
    number(code + 10, p.y());
  }
  void space(int code, const Vector2d& p) {
    point(code, p);
    number(code + 20, 0.0);
  }
  void section(const std::string& name) {
    pair(0, "SECTION");
    pair(2, name);
  }
  void end_section() { pair(0, "ENDSEC"); }

  // An object with a handle of its own, owned by another; returns the handle.
  std::string object(const std::string& kind, const std::string& owner, int handle_code = 5) {
    std::string handle = next_handle();
    pair(0, kind);
    pair(handle_code, handle);
    pair(330, owner);
    return handle;
  }
  std::string table(const std::string& name, std::size_t entries) {
    pair(0, "TABLE");
    pair(2, name);
    std::string handle = next_handle();
    pair(5, handle);
    pair(330, "0");
    pair(100, "AcDbSymbolTable");
    pair(70, std::to_string(entries));
    return handle;
  }
  std::string record(const std::string& kind, const std::string& table, const std::string& subclass,
                     const std::string& name, int handle_code = 5) {
    std::string handle = object(kind, table, handle_code);
    pair(100, "AcDbSymbolTableRecord");
    pair(100, subclass);
    pair(2, name);
    return handle;
  }
  void end_table() { pair(0, "ENDTAB"); }
  std::string next_handle() {
    char handle[16];
    std::snprintf(handle, sizeof handle, "%X", ++last_handle_);
    return handle;
  }
  [[nodiscard]] const std::string& text() const { return text_; }

 private:
  std::string text_;
  unsigned last_handle_ = 0xF;
};

constexpr const char* kModel = "*Model_Space";
constexpr const char* kPaper = "*Paper_Space";

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

struct Spaces {
  std::string model;  // handles of the block records
  std::string paper;
};

void polyline(Writer& out, const Polyline2d& line, bool closed, const std::string& layer, const ToBed& to_bed,
              const Spaces& spaces) {
  if (line.size() < 2) return;
  out.object("LWPOLYLINE", spaces.model);
  out.pair(100, "AcDbEntity");
  out.pair(8, layer);
  out.pair(100, "AcDbPolyline");
  out.pair(90, std::to_string(line.size()));
  out.pair(70, closed ? "1" : "0");
  for (const Vector2d& point : line) out.point(10, to_bed(point));
}

void entities(Writer& out, const PlacedDesign& placed, const Layers& layers, const Spaces& spaces) {
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

// The seed of handles goes into the header, so that is written last and put first.
std::string header(const Page& page, const std::string& next_handle) {
  Writer out;
  out.pair(999, "jigtrue: millimetres, bed frame, (0, 0) is the machine's own origin");
  out.section("HEADER");
  const auto variable = [&out](const std::string& name, int code, const std::string& value) {
    out.pair(9, name);
    out.pair(code, value);
  };
  variable("$ACADVER", 1, "AC1015");
  variable("$DWGCODEPAGE", 3, "ANSI_1252");
  variable("$HANDSEED", 5, next_handle);
  variable("$INSUNITS", 70, "4");
  variable("$MEASUREMENT", 70, "1");
  out.pair(9, "$EXTMIN");
  out.space(10, page.lower_left_mm);
  out.pair(9, "$EXTMAX");
  out.space(10, page.lower_left_mm + page.size_mm);
  out.end_section();
  out.section("CLASSES");
  out.end_section();
  return out.text();
}

void viewport_table(Writer& out, const Page& page) {
  const std::string table = out.table("VPORT", 1);
  out.record("VPORT", table, "AcDbViewportTableRecord", "*Active");
  out.pair(70, "0");
  out.point(10, {0.0, 0.0});
  out.point(11, {1.0, 1.0});
  out.point(12, page.lower_left_mm + page.size_mm / 2.0);
  out.point(13, {0.0, 0.0});
  out.point(14, {10.0, 10.0});
  out.point(15, {10.0, 10.0});
  out.point(16, {0.0, 0.0});  // seen from above
  out.number(36, 1.0);
  out.space(17, {0.0, 0.0});
  out.number(40, page.size_mm.y());
  out.number(41, page.size_mm.x() / page.size_mm.y());
  out.end_table();
}

void line_types(Writer& out) {
  const std::string table = out.table("LTYPE", 3);
  for (const char* name : {"ByBlock", "ByLayer", "Continuous"}) {
    out.record("LTYPE", table, "AcDbLinetypeTableRecord", name);
    out.pair(70, "0");
    out.pair(3, "");
    out.pair(72, "65");
    out.pair(73, "0");
    out.number(40, 0.0);
  }
  out.end_table();
}

// Colours 1 to 6 are the plain ones of the DXF palette: passes come out apart in programs that go by colour.
void layer_table(Writer& out, const Layers& layers) {
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

// Nothing here is used by what is drawn, but every file of this release holds it.
void other_tables(Writer& out) {
  const std::string styles = out.table("STYLE", 1);
  out.record("STYLE", styles, "AcDbTextStyleTableRecord", "Standard");
  out.pair(70, "0");
  out.number(40, 0.0);
  out.number(41, 1.0);
  out.number(50, 0.0);
  out.pair(71, "0");
  out.number(42, 2.5);
  out.pair(3, "txt");
  out.pair(4, "");
  out.end_table();
  for (const char* name : {"VIEW", "UCS"}) {
    out.table(name, 0);
    out.end_table();
  }
  const std::string applications = out.table("APPID", 1);
  out.record("APPID", applications, "AcDbRegAppTableRecord", "ACAD");
  out.pair(70, "0");
  out.end_table();
  const std::string dimensions = out.table("DIMSTYLE", 1);
  out.pair(100, "AcDbDimStyleTable");
  out.record("DIMSTYLE", dimensions, "AcDbDimStyleTableRecord", "Standard", 105);
  out.pair(70, "0");
  out.end_table();
}

Spaces block_records(Writer& out) {
  const std::string table = out.table("BLOCK_RECORD", 2);
  Spaces spaces;
  spaces.model = out.record("BLOCK_RECORD", table, "AcDbBlockTableRecord", kModel);
  spaces.paper = out.record("BLOCK_RECORD", table, "AcDbBlockTableRecord", kPaper);
  out.end_table();
  return spaces;
}

void blocks(Writer& out, const Spaces& spaces) {
  out.section("BLOCKS");
  for (const bool paper : {false, true}) {
    const std::string name = paper ? kPaper : kModel;
    const auto part = [&](const char* kind, const char* subclass) {
      out.object(kind, paper ? spaces.paper : spaces.model);
      out.pair(100, "AcDbEntity");
      if (paper) out.pair(67, "1");
      out.pair(8, "0");
      out.pair(100, subclass);
    };
    part("BLOCK", "AcDbBlockBegin");
    out.pair(2, name);
    out.pair(70, "0");
    out.space(10, {0.0, 0.0});
    out.pair(3, name);
    out.pair(1, "");
    part("ENDBLK", "AcDbBlockEnd");
  }
  out.end_section();
}

void dictionaries(Writer& out) {
  out.section("OBJECTS");
  const std::string root = out.object("DICTIONARY", "0");
  out.pair(100, "AcDbDictionary");
  out.pair(281, "1");
  out.pair(3, "ACAD_GROUP");
  // the group dictionary is the next object
  const std::string group = out.next_handle();
  out.pair(350, group);
  out.pair(0, "DICTIONARY");
  out.pair(5, group);
  out.pair(330, root);
  out.pair(100, "AcDbDictionary");
  out.pair(281, "1");
  out.end_section();
}

}  // namespace

std::string layout_dxf(const Placement& placement) {
  if (points_of(placement) > kMostDxfPoints)
    throw input_error("layout.dxf", "would hold more than 20,000,000 points: the drawing's curves, once for each slot",
                      "simplify the drawing, or place fewer slots at a time");
  const Layers layers(placement);
  Writer out;
  out.section("TABLES");
  viewport_table(out, placement.page);
  line_types(out);
  layer_table(out, layers);
  other_tables(out);
  const Spaces spaces = block_records(out);
  out.end_section();
  blocks(out, spaces);
  out.section("ENTITIES");
  for (const PlacedDesign& placed : placement.placed) entities(out, placed, layers, spaces);
  out.end_section();
  dictionaries(out);
  const std::string seed = out.next_handle();
  return header(placement.page, seed) + out.text() + "0\nEOF\n";
}

}  // namespace jigtrue
