#include "jigtrue/workbench/load_check.hpp"

#include "jigtrue/image/photo_digest.hpp"
#include "jigtrue/image/photo_treatment.hpp"
#include "jigtrue/inspection/apply_beam.hpp"
#include "jigtrue/layout/apply_machine.hpp"
#include "jigtrue/layout/placement.hpp"
#include "jigtrue/layout/sketch_layout.hpp"
#include "jigtrue/layout/treated_photo.hpp"
#include "jigtrue/layout/usable_band.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/report/check_outputs.hpp"

#include <initializer_list>
#include <utility>

namespace jigtrue {
namespace {

std::vector<std::string> joined(std::initializer_list<std::vector<std::string>> lists) {
  std::vector<std::string> all;
  for (const std::vector<std::string>& list : lists) all.insert(all.end(), list.begin(), list.end());
  return all;
}

}  // namespace

MeasuredLoad measure_load(const Photo& photo, const PlacedCamera& placed, const Fixture& fixture,
                          EdgeModelStore& models, const Photo* empty) {
  CheckOptions options;
  options.empty = empty;
  options.lens_error_px = placed.lens_error_px;
  PhotoFindings findings = check_photo(photo, placed.camera, fixture, options, models);
  const PhotoTreatment treatment = photo_treatment(photo);
  CheckResult result;
  result.photo_file = photo.file;
  result.photo_digest = photo_digest(photo);
  result.fixture_name = fixture.name;
  result.width_px = photo.width_px();
  result.height_px = photo.height_px();
  result.slots =
      widened_for_treatment(treatment, fixture, with_design_planes(placed.camera, fixture, std::move(findings.slots)));
  result.placement = findings.placement;
  result.witness = placed.witness;
  result.notes = joined({placed.notes, findings.notes, treatment_notes(treatment)});
  result.directions = bed_directions(placed.camera, fixture);
  result.self_located = placed.self_located;
  return {std::move(result), placed.camera};
}

JudgedLoad judge_load(const MeasuredLoad& measured, const Fixture& fixture, const std::optional<Machine>& machine,
                      const std::vector<std::string>& design_notes) {
  JudgedLoad judged{measured.result};
  judged.result.notes.insert(judged.result.notes.end(), design_notes.begin(), design_notes.end());
  judge_designs(fixture, judged.result, machine);
  sketch_bands(measured.camera, fixture, judged.result);
  return judged;
}

PlacedLoad place_load(const DressedLoad& dressed, const BeamCorrections& corrections,
                      const std::optional<Machine>& machine) {
  PlacedLoad placed{dressed.load.result};
  placed.result.machine = corrections.figures;
  if (corrections.apply_figures) apply_machine(placed.result);
  if (corrections.beam) apply_beam(*corrections.beam, corrections.beam_source, placed.result);
  if (machine) judge_on_bed(placed.result, *machine);
  sketch_art(dressed.art, placed.result);
  return placed;
}

LoadRecord record_of(const JudgedLoad& judged, const Fixture& fixture, const std::string& time) {
  return load_record(judged.result, fixture, time);
}

std::vector<FileContent> files_of(const PlacedLoad& placed, Photo photo, const ReportOptions& options) {
  return check_outputs({}, placed.result, std::move(photo), options);
}

}  // namespace jigtrue
