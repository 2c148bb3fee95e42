#include "jigtrue/report/placement_files.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/json/written_number.hpp"
#include "jigtrue/report/beam_files.hpp"
#include "jigtrue/report/kept_art.hpp"

#include "report/csv_cell.hpp"
#include "report/file_head.hpp"
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using Json = nlohmann::ordered_json;

struct PlacedRow {
  const SlotResult* slot = nullptr;
  const PlacedDesign* placed = nullptr;
  std::string reason;
};

std::vector<PlacedRow> rows_of(const CheckResult& result, const Placement& placement) {
  std::vector<PlacedRow> rows;
  for (const SlotResult& slot : result.slots) {
    PlacedRow row{&slot, nullptr, {}};
    for (const PlacedDesign& placed : placement.placed)
      if (placed.slot_id == slot.id) row.placed = &placed;
    for (const LeftOut& left : placement.left_out)
      if (left.slot_id == slot.id) row.reason = left.reason;
    rows.push_back(std::move(row));
  }
  return rows;
}

Json pair_json(const Vector2d& v) { return Json::array({written_number(v.x()), written_number(v.y())}); }

Json row_json(const PlacedRow& row) {
  Json out;
  out["id"] = valid_utf8(row.slot->id);
  out["placed"] = row.placed != nullptr;
  out["reason"] = valid_utf8(row.reason);
  out["centre_mm"] = row.placed != nullptr ? pair_json(row.placed->bed_centre_mm) : Json(nullptr);
  out["axis_deg"] = row.placed != nullptr ? Json(written_number(row.placed->axis_deg)) : Json(nullptr);
  const bool known = row.placed != nullptr && row.slot->numbers.has_value();
  out["offset_mm"] = known ? pair_json(row.slot->numbers->offset_mm) : Json(nullptr);
  out["rotation_deg"] = known ? Json(written_number(row.slot->numbers->rotation_deg)) : Json(nullptr);
  out["design_mm"] =
      row.slot->design ? pair_json({row.slot->design->width_mm, row.slot->design->height_mm}) : Json(nullptr);
  return out;
}

}  // namespace

std::string placement_csv(const CheckResult& result, const Placement& placement) {
  std::string out =
      "slot,placed,centre_x_mm,centre_y_mm,axis_deg,offset_x_mm,offset_y_mm,along_mm,across_mm,rotation_deg,reason\r\n";
  for (const PlacedRow& row : rows_of(result, placement)) {
    out += csv_cell(valid_utf8(row.slot->id)) + (row.placed != nullptr ? ",yes" : ",no");
    if (row.placed != nullptr && row.slot->numbers) {
      const SlotNumbers& n = *row.slot->numbers;
      out += "," + fixed_text(row.placed->bed_centre_mm.x(), 3) + "," + fixed_text(row.placed->bed_centre_mm.y(), 3) +
             "," + fixed_text(row.placed->axis_deg, 4) + "," + fixed_text(n.offset_mm.x(), 4) + "," +
             fixed_text(n.offset_mm.y(), 4) + "," + (n.along_mm ? fixed_text(*n.along_mm, 4) : "") + "," +
             fixed_text(n.across_mm, 4) + "," + fixed_text(n.rotation_deg, 4);
    } else {
      out += ",,,,,,,,";
    }
    out += "," + csv_cell(valid_utf8(row.reason)) + "\r\n";
  }
  return out;
}

std::string placement_json(const CheckResult& result, const Placement& placement, const RunTime& run_time,
                           const std::vector<std::string>& notes, const ReportOptions& options) {
  Json root = file_head("jigtrue.placement/1", options);
  root["fixture_name"] = valid_utf8(result.fixture_name);
  root["machine_origin"] = options.machine ? Json(to_string(options.machine->origin_corner)) : Json(nullptr);
  root["machine_applied"] = result.machine_applied;
  root["beam_applied"] = beam_offset_json(result.beam_applied);
  root["proof"] = placement.proof;
  root["page_mm"] = pair_json(placement.page.size_mm);
  root["page_lower_left_mm"] = pair_json(placement.page.lower_left_mm);
  root["slots"] = Json::array();
  for (const PlacedRow& row : rows_of(result, placement)) root["slots"].push_back(row_json(row));
  root["left_out"] = Json::array();
  for (const LeftOut& left : placement.left_out)
    root["left_out"].push_back({{"id", valid_utf8(left.slot_id)}, {"reason", valid_utf8(left.reason)}});
  root["run_time"] = {{"seconds", written_number(run_time.seconds)}, {"passes", Json::array()}};
  for (const PassTime& pass : run_time.passes)
    root["run_time"]["passes"].push_back({{"name", valid_utf8(pass.name)},
                                          {"seconds", written_number(pass.seconds)},
                                          {"lines", pass.lines},
                                          {"length_mm", written_number(pass.length_mm)}});
  root["run_time"]["undeclared"] = Json::array();
  for (const std::string& name : run_time.undeclared) root["run_time"]["undeclared"].push_back(valid_utf8(name));
  root["notes"] = Json::array();
  for (const std::string& note : notes) root["notes"].push_back(valid_utf8(note));
  root["artwork"] = kept_art_json(options.art);
  return root.dump(2) + "\n";
}

}  // namespace jigtrue
