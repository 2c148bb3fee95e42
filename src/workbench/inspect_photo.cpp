#include "jigtrue/workbench/inspect_photo.hpp"

#include "jigtrue/report/inspection_outputs.hpp"
#include "jigtrue/workbench/load_check.hpp"

#include <utility>

namespace jigtrue {

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
  const ReportOptions options{time, setup.software_version, setup.laid.machine, setup.laid.art, std::nullopt};
  std::vector<FileContent> files = inspection_outputs(result, std::move(photo), options);
  return {std::move(result), std::move(files)};
}

}  // namespace jigtrue
