#include "jigtrue/report/inspection_json.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/json/written_number.hpp"
#include "jigtrue/report/beam_files.hpp"
#include "jigtrue/report/inspection_words.hpp"

#include "report/file_head.hpp"
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using InspectionJson = nlohmann::ordered_json;

InspectionJson rounded_value(double value) { return written_number(value); }
InspectionJson rounded_value(const std::optional<double>& value) {
  return value ? rounded_value(*value) : InspectionJson(nullptr);
}
InspectionJson rounded_pair(const Vector2d& v) {
  return InspectionJson::array({rounded_value(v.x()), rounded_value(v.y())});
}

InspectionJson lines_json(const std::vector<std::string>& lines) {
  InspectionJson out = InspectionJson::array();
  for (const std::string& line : lines) out.push_back(valid_utf8(line));
  return out;
}

InspectionJson offset_json(const std::optional<MarkOffset>& offset) {
  if (!offset) return nullptr;
  return {{"along", rounded_value(offset->along_mm)}, {"across", rounded_value(offset->across_mm)}};
}

InspectionJson half_widths(const std::optional<MarkUncertainty>& u) {
  if (!u) return nullptr;
  return {{"coverage", 0.95},
          {"across_mm", rounded_value(u->across_mm)},
          {"along_mm", rounded_value(u->along_mm)},
          {"rotation_deg", rounded_value(u->rotation_deg)}};
}

InspectionJson beam_json(const std::optional<BeamReading>& beam, bool machine_applied) {
  if (!beam) return nullptr;
  InspectionJson out;
  out["shift_mm"] = rounded_pair(beam->shift_mm);
  out["turn_deg"] = rounded_value(beam->turn_deg);
  out["uncertainty"] = {
      {"coverage", 0.95}, {"shift_mm", rounded_pair(beam->shift_u_mm)}, {"turn_deg", rounded_value(beam->turn_u_deg)}};
  out["about_mm"] = rounded_pair(beam->about_mm);
  out["own_uncertainty"] = {{"coverage", 0.95},
                            {"shift_mm", rounded_pair(beam->own_u_mm)},
                            {"turn_deg", rounded_value(beam->own_turn_u_deg)}};
  out["stretch"] = beam_stretch_json(beam->stretch);
  out["stretch_uncertainty"] = beam_stretch_u_json(beam->stretch_whole);
  out["loads"] = 1;
  out["machine_applied"] = machine_applied;
  out["scatter_mm"] = rounded_value(beam->scatter_mm);
  out["slots"] = beam->slots;
  return out;
}

InspectionJson inspected_json(const InspectedSlot& slot, const SlotResult& blank) {
  InspectionJson out;
  out["id"] = valid_utf8(slot.id);
  out["state"] = to_string(slot.state);
  out["reasons"] = lines_json(slot.reasons);
  out["remedy"] = valid_utf8(slot.remedy);
  out["from_blank_mm"] = offset_json(slot.from_blank_mm);
  out["from_placed_mm"] = offset_json(slot.from_placed_mm);
  out["rotation_deg"] = rounded_value(slot.rotation_deg);
  out["uncertainty"] = half_widths(slot.uncertainty);
  out["contrast"] = rounded_value(slot.contrast);
  out["evenness"] = rounded_value(slot.evenness);
  out["placed_uncertainty"] = half_widths(slot.placed_uncertainty);
  out["contrast_uncertainty"] = rounded_value(slot.contrast_u);
  out["halo"] = rounded_value(slot.halo);
  out["halo_uncertainty"] = rounded_value(slot.halo_u);
  out["smoke"] = rounded_value(slot.smoke);
  out["smoke_uncertainty"] = rounded_value(slot.smoke_u);
  out["wants_another_pass"] = slot.wants_another_pass;
  out["spoiled"] = slot.spoiled;
  out["mark_centre_mm"] = slot.mark_mm ? rounded_pair(*slot.mark_mm) : InspectionJson(nullptr);
  out["mark_deg"] = rounded_value(slot.mark_deg);
  out["blank_state"] = to_string(blank.state);
  out["score"] = rounded_value(slot.score);
  out["chance"] = slot.chance ? InspectionJson(*slot.chance) : InspectionJson(nullptr);
  out["least_contrast"] = rounded_value(slot.least_contrast);
  return out;
}

}  // namespace

std::string inspection_json(const InspectionResult& result, const ReportOptions& options) {
  InspectionJson root = file_head("jigtrue.inspection/1", options);
  root["photo"] = {{"file", valid_utf8(result.blanks.photo_file)}, {"digest", result.blanks.photo_digest}};
  root["fixture_name"] = valid_utf8(result.blanks.fixture_name);
  root["headline"] = valid_utf8(inspection_headline(result));
  root["proof"] = result.proof;
  root["beam"] = beam_json(result.beam, result.machine_applied);
  root["beam_applied"] = beam_offset_json(result.beam_applied);
  root["slots"] = InspectionJson::array();
  for (std::size_t i = 0; i < result.slots.size(); ++i)
    root["slots"].push_back(inspected_json(result.slots[i], result.blanks.slots[i]));
  root["notes"] = lines_json(result.notes);
  return root.dump(2) + "\n";
}

}  // namespace jigtrue
