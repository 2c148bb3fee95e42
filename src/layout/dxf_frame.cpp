#include "layout/dxf_frame.hpp"

namespace jigtrue {
namespace {

constexpr const char* kModel = "*Model_Space";
constexpr const char* kPaper = "*Paper_Space";

}  // namespace

std::string dxf_header(const Page& page, const std::string& next_handle) {
  DxfWriter out;
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

void dxf_viewport(DxfWriter& out, const Page& page) {
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

void dxf_line_types(DxfWriter& out) {
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

// Nothing here is used by what is drawn, but every file of this release holds it.
void dxf_other_tables(DxfWriter& out) {
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

DxfSpaces dxf_block_records(DxfWriter& out) {
  const std::string table = out.table("BLOCK_RECORD", 2);
  DxfSpaces spaces;
  spaces.model = out.record("BLOCK_RECORD", table, "AcDbBlockTableRecord", kModel);
  spaces.paper = out.record("BLOCK_RECORD", table, "AcDbBlockTableRecord", kPaper);
  out.end_table();
  return spaces;
}

void dxf_blocks(DxfWriter& out, const DxfSpaces& spaces) {
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

void dxf_dictionaries(DxfWriter& out) {
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

}  // namespace jigtrue
