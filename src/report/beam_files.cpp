#include "jigtrue/report/beam_files.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/inspection/apply_beam.hpp"

#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

constexpr JsonForm kInspectionForm{"an inspection", "jigtrue.inspection/1",
                                   "give the inspection.json that jigtrue inspect wrote"};
constexpr JsonRange kBeamRange{-1e4, 1e4, "mm"};

Vector2d pair_of(const JsonField& field) {
  field.require_list(2, 2);
  return {field[0].number(kBeamRange), field[1].number(kBeamRange)};
}

std::optional<Figure> figure_of(const JsonField& stretch, const char* name) {
  const auto figure = stretch.given(name);
  if (!figure) return std::nullopt;
  return Figure{(*figure)["value"].number(kBeamRange), (*figure)["u95"].not_negative()};
}

nlohmann::ordered_json figure_json(const std::optional<Figure>& figure) {
  if (!figure) return nullptr;
  return {{"value", figure->value}, {"u95", figure->u95}};
}

BeamOffset offset_of(const JsonField& beam) {
  BeamOffset out;
  out.about_mm = pair_of(beam["about_mm"]);
  out.shift_mm = pair_of(beam["shift_mm"]);
  out.turn_deg = beam["turn_deg"].number(kBeamRange);
  const JsonField own = beam["own_uncertainty"];
  out.shift_u_mm = pair_of(own["shift_mm"]);
  out.turn_u_deg = own["turn_deg"].not_negative();
  if (const auto stretch = beam.given("stretch")) {
    out.stretch.scale_x = figure_of(*stretch, "scale_x");
    out.stretch.scale_y = figure_of(*stretch, "scale_y");
    out.stretch.square_deg = figure_of(*stretch, "square_deg");
  }
  out.loads = beam["loads"].positive_integer();
  out.machine_applied = beam["machine_applied"].yes();
  return out;
}

}  // namespace

BeamOffset read_beam_offset(const std::vector<NamedText>& inspections) {
  std::vector<BeamOffset> loads;
  for (const NamedText& each : inspections) {
    const JsonFile file(each.text, each.file, kInspectionForm);
    const auto beam = file.checked_root().given("beam");
    if (!beam)
      throw input_error(each.file, "no mark of this load tells where the beam lands",
                        "inspect a load with marks that were placed");
    loads.push_back(offset_of(*beam));
    if (loads.back().machine_applied != loads.front().machine_applied)
      throw input_error(each.file,
                        "its load was laid out with the machine's own errors corrected, or not, unlike the others'",
                        "give inspections of loads laid out alike");
  }
  return combined(loads);
}

nlohmann::ordered_json beam_stretch_json(const BeamStretch& stretch) {
  return {{"scale_x", figure_json(stretch.scale_x)},
          {"scale_y", figure_json(stretch.scale_y)},
          {"square_deg", figure_json(stretch.square_deg)}};
}

nlohmann::ordered_json beam_stretch_u_json(const BeamStretch& stretch) {
  nlohmann::ordered_json out = {{"coverage", 0.95}};
  const auto add = [&](const char* name, const std::optional<Figure>& figure) {
    out[name] = figure ? nlohmann::ordered_json(figure->u95) : nlohmann::ordered_json(nullptr);
  };
  add("scale_x", stretch.scale_x);
  add("scale_y", stretch.scale_y);
  add("square_deg", stretch.square_deg);
  return out;
}

nlohmann::ordered_json beam_offset_json(const std::optional<BeamOffset>& offset) {
  if (!offset) return nullptr;
  nlohmann::ordered_json out;
  out["shift_mm"] = {offset->shift_mm.x(), offset->shift_mm.y()};
  out["turn_deg"] = offset->turn_deg;
  out["about_mm"] = {offset->about_mm.x(), offset->about_mm.y()};
  out["own_uncertainty"] = {{"coverage", 0.95},
                            {"shift_mm", {offset->shift_u_mm.x(), offset->shift_u_mm.y()}},
                            {"turn_deg", offset->turn_u_deg}};
  out["stretch"] = beam_stretch_json(offset->stretch);
  out["loads"] = offset->loads;
  out["machine_applied"] = offset->machine_applied;
  return out;
}

std::optional<BeamOffset> read_applied_beam(const JsonField& root) {
  const auto beam = root.given("beam_applied");
  return beam ? std::optional(offset_of(*beam)) : std::nullopt;
}

}  // namespace jigtrue
