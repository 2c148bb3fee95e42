// A burned load's photo in, what was burned and the bytes of files out.
#pragma once
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/history/burn_record.hpp"
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
  std::string record = {};  // its text: what earlier inspections kept (history/burn_record.hpp)
};

struct InspectedLoad {
  InspectionResult result;
  // inspection.json, inspection.html, annotated.jpg, again.svg, again.dxf: names only, in no folder
  std::vector<FileContent> files;
  BurnRecord record;
};

// Throws InputError: as Workbench::check, and when the photo is the one that the load was laid out by, so from before
// the burn.
[[nodiscard]] InspectedLoad inspect_photo(const InspectSetup& setup, Photo photo, const std::string& time);

}  // namespace jigtrue
