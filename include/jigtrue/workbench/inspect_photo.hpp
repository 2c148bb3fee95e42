// A burned load's photo in, what was burned and the bytes of files out.
#pragma once
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/inspection/inspect_load.hpp"
#include "jigtrue/workbench/place_camera.hpp"

#include <string>
#include <vector>

namespace jigtrue {

struct InspectSetup {
  CameraSource camera;
  LaidLoad laid;
  PlaceOptions place = {};
  std::string software_version = {};
};

struct InspectedLoad {
  InspectionResult result;
  std::vector<FileContent> files;  // inspection.json, inspection.html, annotated.jpg: names only, in no folder
};

// Throws InputError: as Workbench::check, and when the photo is the one that the load was laid out by, so from before
// the burn.
[[nodiscard]] InspectedLoad inspect_photo(const InspectSetup& setup, Photo photo, const std::string& time);

}  // namespace jigtrue
