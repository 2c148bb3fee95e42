#include "jigtrue/report/report_json.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/fixture/fixture_json.hpp"
#include "jigtrue/json/written_number.hpp"
#include "jigtrue/measurement/readiness.hpp"
#include "jigtrue/report/beam_files.hpp"
#include "jigtrue/report/kept_art.hpp"
#include "jigtrue/report/standing.hpp"

#include <cmath>
#include <stdexcept>

#include "report/file_head.hpp"
#include <nlohmann/json.hpp>

namespace jigtrue {

namespace {

using Json = nlohmann::ordered_json;

Json json_number(double value) { return written_number(value); }

Json json_number(const std::optional<double>& value) { return value ? json_number(*value) : Json(nullptr); }

Json pair(const Vector2d& value) { return Json::array({json_number(value.x()), json_number(value.y())}); }

Json strings(const std::vector<std::string>& values) {
  Json out = Json::array();
  for (const std::string& value : values) out.push_back(valid_utf8(value));
  return out;
}

Json placement_json(const std::optional<FixturePlacement>& found) {
  if (!found) return nullptr;
  Json out;
  out["shift_mm"] = pair(found->shift_mm);
  out["turn_deg"] = json_number(found->turn_deg);
  out["from"] = found->from;
  out["uncertainty"] = {
      {"coverage", 0.95}, {"shift_mm", json_number(found->shift_u_mm)}, {"turn_deg", json_number(found->turn_u_deg)}};
  return out;
}

Json witness_json(const std::optional<WitnessFinding>& found) {
  if (!found) return nullptr;
  Json out;
  out["kept"] = found->kept;
  out["seen"] = found->seen;
  out["largest_px"] = json_number(found->largest_px);
  out["largest_mm"] = json_number(found->largest_mm);
  return out;
}

Json machine(const CheckResult& result) {
  if (!result.machine) return nullptr;
  Json out;
  out["applied"] = result.machine_applied;
  out.update(machine_json(*result.machine));
  return out;
}

// As machine.json has it.
Json bed(const std::optional<Machine>& machine) {
  if (!machine) return nullptr;
  Json out;
  out["schema"] = "jigtrue.machine/1";
  out["bed_mm"] = pair(machine->bed_mm);
  out["origin_corner"] = to_string(machine->origin_corner);
  out["beam"] = "vertical";
  if (const auto& head = machine->scanning_head_mm)
    out["beam"] = {{"from_mm", {json_number(head->x()), json_number(head->y()), json_number(head->z())}}};
  return out;
}

Json uncertainty(const ExpandedUncertainty& u) {
  Json out;
  out["coverage"] = json_number(u.coverage);
  out["across_mm"] = json_number(u.across_mm);
  out["along_mm"] = json_number(u.along_mm);
  out["rotation_deg"] = json_number(u.rotation_deg);
  out["diameter_mm"] = json_number(u.diameter_mm);
  return out;
}

Json budget(const std::vector<BudgetShare>& shares) {
  Json out = Json::array();
  for (const BudgetShare& share : shares) {
    Json item;
    item["name"] = valid_utf8(share.name);
    item["across_mm"] = json_number(share.across_mm);
    item["along_mm"] = json_number(share.along_mm);
    item["rotation_deg"] = json_number(share.rotation_deg);
    out.push_back(std::move(item));
  }
  return out;
}

void add_numbers(Json& out, const std::optional<SlotNumbers>& numbers) {
  out["centre_mm"] = numbers ? pair(numbers->centre_mm) : Json(nullptr);
  out["axis_deg"] = numbers ? json_number(numbers->axis_deg) : Json(nullptr);
  out["offset_mm"] = numbers ? pair(numbers->offset_mm) : Json(nullptr);
  out["across_mm"] = numbers ? json_number(numbers->across_mm) : Json(nullptr);
  out["along_mm"] = numbers ? json_number(numbers->along_mm) : Json(nullptr);
  out["rotation_deg"] = numbers ? json_number(numbers->rotation_deg) : Json(nullptr);
  out["diameter_mm"] = numbers ? json_number(numbers->diameter_mm) : Json(nullptr);
  out["uncertainty"] = numbers ? uncertainty(numbers->uncertainty) : Json(nullptr);
  // what has been added to the place where the camera saw it
  if (numbers && numbers->machine_correction_mm) out["machine_correction_mm"] = pair(*numbers->machine_correction_mm);
}

Json room(const std::optional<DesignRoom>& found) {
  if (!found) return nullptr;
  Json out;
  out["left_mm"] = json_number(found->left_mm);
  out["right_mm"] = json_number(found->right_mm);
  out["forward_mm"] = json_number(found->forward_mm);
  out["backward_mm"] = json_number(found->backward_mm);
  out["u_across_mm"] = json_number(found->u_across_mm);
  out["u_along_mm"] = json_number(found->u_along_mm);
  out["disc_radius_mm"] = json_number(found->disc_radius_mm);
  out["diameter_mm"] = json_number(found->diameter_mm);
  out["lean_deg"] = json_number(found->lean_deg);
  out["design_width_mm"] = json_number(found->design_width_mm);
  out["bound"] = found->bound;
  return out;
}

// As SVG's points have it: one text takes a hundredth of the lines that as many arrays would.
std::string points(const Polyline2d& line) {
  std::string out;
  for (const Vector2d& point : line)
    out += (out.empty() ? "" : " ") + fixed_text(point.x(), 1) + "," + fixed_text(point.y(), 1);
  return out;
}

Json matrix(const std::optional<Matrix3d>& map) {
  if (!map) return nullptr;
  if (!map->allFinite()) throw std::logic_error("report.json: a number is not finite");
  Json out = Json::array();
  for (int row = 0; row < 3; ++row)
    for (int column = 0; column < 3; ++column) out.push_back((*map)(row, column));
  return out;
}

Json sketch(const SlotSketch& drawn) {
  Json out;
  out["outline"] = Json::array();
  for (const Polyline2d& piece : drawn.outline) out["outline"].push_back(points(piece));
  out["centreline"] = points(drawn.centreline);
  out["nominal_centreline"] = points(drawn.nominal_centreline);
  out["design_box"] = points(drawn.design_box);
  out["nominal_design_box"] = points(drawn.nominal_design_box);
  out["band"] = points(drawn.band);
  out["label"] = points({drawn.label_px});
  out["photo_from_design"] = matrix(drawn.photo_from_design);
  return out;
}

Json directions(const std::optional<BedDirections>& seen) {
  if (!seen) return nullptr;
  return {{"x", pair(seen->x)}, {"y", pair(seen->y)}};
}

Json slot_json(const SlotResult& slot) {
  Json out;
  out["id"] = valid_utf8(slot.id);
  out["state"] = to_string(slot.state);
  out["ready"] = is_ready(slot);
  out["reasons"] = strings(all_reasons(slot));
  out["remedy"] = valid_utf8(slot.remedy);
  add_numbers(out, slot.numbers);
  out["usable_band_mm"] = json_number(slot.usable_band_mm);
  out["design_fits"] = slot.design_fits ? Json(*slot.design_fits) : Json(nullptr);
  out["design_note"] = valid_utf8(slot.design_note);
  out["room"] = room(slot.room);
  out["design_mm"] = slot.design ? pair({slot.design->width_mm, slot.design->height_mm}) : Json(nullptr);
  out["nominal_centre_mm"] = pair(slot.nominal_centre_mm);
  out["nominal_axis_deg"] = json_number(slot.nominal_axis_deg);
  out["budget"] = slot.numbers ? budget(slot.numbers->budget) : Json::array();
  out["sketch_px"] = sketch(slot.sketch);
  return out;
}

}  // namespace

std::string report_json(const CheckResult& result, const ReportOptions& options) {
  Json root = file_head("jigtrue.report/1", options);
  root["photo"] = {{"file", valid_utf8(result.photo_file)},
                   {"image_size_px", {result.width_px, result.height_px}},
                   {"digest", result.photo_digest},
                   {"bed_directions", directions(result.directions)}};
  root["fixture_name"] = valid_utf8(result.fixture_name);
  root["all_ready"] = !result.needs_person();
  root["headline"] = valid_utf8(headline(result));
  const Need need = result.slots.empty() ? Need{} : result.slots.front().need;
  root["need"] = {{"across_mm", json_number(need.across_mm)},
                  {"along_mm", json_number(need.along_mm)},
                  {"turn_deg", json_number(need.turn_deg)}};
  root["self_located"] = result.self_located;
  root["fixture"] = placement_json(result.placement);
  root["witness"] = witness_json(result.witness);
  root["machine"] = machine(result);
  root["beam_applied"] = beam_offset_json(result.beam_applied);
  root["bed"] = bed(options.machine);
  root["cautions"] = strings(cautions(result, options.machine));
  root["notes"] = strings(result.notes);
  root["slots"] = Json::array();
  for (const SlotResult& slot : result.slots) root["slots"].push_back(slot_json(slot));
  if (options.fixture) root["declared"] = fixture_json(*options.fixture);
  root["artwork"] = kept_art_json(options.art);
  return root.dump(2) + "\n";
}

}  // namespace jigtrue
