#include "jigtrue/report/read_laid_load.hpp"

#include "jigtrue/measurement/readiness.hpp"
#include "jigtrue/report/beam_files.hpp"
#include "jigtrue/report/kept_art.hpp"
#include "jigtrue/report/read_report.hpp"

#include <algorithm>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr JsonForm kReportOfLoad{"a report", "jigtrue.report/1", "give the report.json that jigtrue check wrote"};
constexpr JsonForm kPlacementForm{"a placement", "", "give the placement.json that jigtrue place wrote"};
constexpr JsonRange kPlaceRange{-1e5, 1e5, "mm"};
constexpr JsonRange kAxisRange{-3600.0, 3600.0, "deg"};

// A machine's own errors were added so that its beam lands where the camera saw the blank: that place again.
void take_off_machine(const MachineReading& machine, std::vector<LaidDesign>& placed) {
  const BeamMap& map = machine.map;
  for (LaidDesign& design : placed) {
    design.centre_mm = map.middle_mm + map.beam_from_bed.inverse() * (design.centre_mm - map.middle_mm);
    design.axis_deg -= deg_from_rad(map.turn_rad(rad_from_deg(design.axis_deg)));
  }
}

std::vector<LaidDesign> placed_by_report(const CheckResult& report) {
  std::vector<LaidDesign> placed;
  for (const SlotResult& slot : report.slots)
    if (is_ready(slot)) placed.push_back({slot.id, slot.numbers->centre_mm, slot.numbers->axis_deg});
  return placed;
}

std::vector<LaidDesign> placed_by_file(const JsonField& root, const CheckResult& report) {
  std::vector<LaidDesign> placed;
  const JsonField slots = root["slots"];
  slots.require_list(0, 2000);
  for (std::size_t i = 0; i < slots.size(); ++i) {
    const JsonField slot = slots[i];
    slot.require_object();
    const std::string id = slot["id"].line_or_number(200);
    const bool known =
        std::any_of(report.slots.begin(), report.slots.end(), [&](const SlotResult& each) { return each.id == id; });
    if (!known) throw slot["id"].error("the report has no slot " + id, "give the placement that was made from it");
    const auto centre = slot.given("centre_mm");
    if (!centre) continue;
    centre->require_list(2, 2);
    placed.push_back({id, Vector2d((*centre)[0].number(kPlaceRange), (*centre)[1].number(kPlaceRange)),
                      slot["axis_deg"].number(kAxisRange)});
  }
  return placed;
}

}  // namespace

LaidLoad read_laid_load(const NamedText& report, const std::optional<NamedText>& placement, const DesignArt& art) {
  const CheckResult result = read_report(report.text, report.file);
  const JsonFile file(report.text, report.file, kReportOfLoad);
  const JsonField root = file.checked_root();
  const auto declared = root.given("declared");
  if (!declared)
    throw input_error(report.file, "it does not hold its fixture, so the blanks cannot be measured anew",
                      "check the load's photo again with this version of jigtrue");
  LaidLoad laid;
  laid.fixture = read_fixture(declared->dump(), report.file + ": declared");
  laid.photo_digest = result.photo_digest;
  laid.machine = read_report_bed(report.text, report.file);
  laid.art = read_kept_art(root, report.file);
  laid.machine_applied = result.machine_applied;
  laid.machine_reading = result.machine;
  laid.beam_applied = result.beam_applied;
  if (placement) {
    const JsonFile placed_file(placement->text, placement->file, kPlacementForm);
    const JsonField placed_root = placed_file.root();
    placed_root.require_object();
    laid.placed = placed_by_file(placed_root, result);
    if (DesignArt own = read_kept_art(placed_root, placement->file); !own.empty()) laid.art = std::move(own);
    if (const auto applied = placed_root.given("machine_applied")) laid.machine_applied = applied->yes();
    if (const auto proof = placed_root.given("proof")) laid.proof = proof->yes();
    if (placed_root.has("beam_applied")) laid.beam_applied = read_applied_beam(placed_root);
  } else {
    laid.placed = placed_by_report(result);
  }
  if (laid.machine_applied && result.machine) take_off_machine(*result.machine, laid.placed);
  if (!art.empty()) laid.art = art;
  if (laid.art.empty())
    throw input_error(report.file, "nothing says what was burned",
                      "give the drawing (--design), or the placement.json of the layout (--placement)");
  return laid;
}

}  // namespace jigtrue
