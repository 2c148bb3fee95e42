#include "jigtrue/workbench/inspect_photo.hpp"

#include "jigtrue/inspection/another_pass.hpp"
#include "jigtrue/inspection/judge_looks.hpp"
#include "jigtrue/report/inspection_outputs.hpp"
#include "jigtrue/workbench/load_check.hpp"

#include <utility>

namespace jigtrue {
namespace {

BurnRecord burn_record(const InspectionResult& result, const LaidLoad& laid, const std::string& time) {
  BurnRecord load{time,
                  result.blanks.photo_file,
                  result.blanks.photo_digest,
                  laid.photo_digest,
                  result.blanks.fixture_name,
                  result.beam_offset(),
                  {}};
  for (const InspectedSlot& slot : result.slots)
    load.slots.push_back({slot.id, to_string(slot.state), slot.contrast, slot.evenness, slot.halo});
  return load;
}

EarlierLooks earlier_looks(const std::vector<BurnRecord>& loads) {
  EarlierLooks looks;
  looks.loads = static_cast<int>(loads.size());
  for (const BurnRecord& load : loads)
    for (const BurnedSlot& slot : load.slots)
      if (slot.contrast) looks.contrasts.push_back(*slot.contrast);
  return looks;
}

}  // namespace

InspectedLoad inspect_photo(const InspectSetup& setup, Photo photo, const std::string& time) {
  const PlacedCamera camera = place_camera(setup.camera, photo, setup.laid.fixture, setup.place);
  EdgeModelStore models;
  const MeasuredLoad measured = measure_load(photo, camera, setup.laid.fixture, models);
  if (!setup.laid.photo_digest.empty() && measured.result.photo_digest == setup.laid.photo_digest)
    throw input_error(photo.file, "it is the photo that the load was laid out by, so it was taken before the burn",
                      "give the photo of the load after burning");
  InspectionResult result =
      inspect_load(photo, measured.camera, measured.result, setup.laid, {camera.lens_error_px, 2});
  result.notes.insert(result.notes.begin(), camera.notes.begin(), camera.notes.end());
  BurnRecord record = burn_record(result, setup.laid, time);
  std::vector<BurnRecord> loads = read_burn_records(setup.record, record.fixture);
  std::erase_if(loads, [&](const BurnRecord& each) { return same_burn(each, record); });
  if (!setup.laid.proof) {  // tape tells nothing of how wood comes out
    judge_looks(earlier_looks(loads), result);
    loads.push_back(record);
  }
  const ReportOptions options{time, setup.software_version, setup.laid.machine, setup.laid.art, std::nullopt};
  std::vector<FileContent> files =
      inspection_outputs({result, another_pass(result, setup.laid), loads}, std::move(photo), options);
  return {std::move(result), std::move(files), std::move(record)};
}

}  // namespace jigtrue
