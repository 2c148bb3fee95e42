#include "jigtrue/workbench/workbench.hpp"

#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/report/annotated_picture.hpp"

#include <utility>

#ifdef __GLIBC__
#include <malloc.h>
#endif

namespace jigtrue {
namespace {

// Measuring asks for many small pieces; glibc keeps them, and what is drawn afterwards would come on top.
void give_back_memory() {
#ifdef __GLIBC__
  malloc_trim(0);
#endif
}

std::optional<MachineReading> figures_of(const CameraSource& source) {
  const auto* record = std::get_if<CameraRecord>(&source);
  return record != nullptr ? record->machine : std::nullopt;
}

}  // namespace

Workbench::Workbench(BenchSetup setup) : setup_(std::move(setup)) {
  if (setup_.apply_figures && !figures_of(setup_.camera))
    throw InputError("", {"the camera's file holds nothing about the machine, so there is nothing to apply",
                          FailureCode::unspecified,
                          "make it with pose --marks from at least five marks that the machine has burned"});
}

CheckedLoad Workbench::check(const EncodedPhoto& encoded, const std::string& time) {
  return check(read_photo(encoded), time);
}

CheckedLoad Workbench::check(Photo photo, const std::string& time, const ArtForLoad& art_for) {
  const PlacedCamera camera = place_camera(setup_.camera, photo, setup_.fixture, setup_.place);
  const MeasuredLoad measured =
      measure_load(photo, camera, setup_.fixture, models_, setup_.empty ? &*setup_.empty : nullptr);
  give_back_memory();
  const JudgedLoad judged = judge_load(measured, setup_.fixture, setup_.machine, setup_.design_notes);
  const DressedLoad dressed = art_for ? art_for(judged) : DressedLoad{judged, setup_.art};
  const BeamCorrections corrections{figures_of(setup_.camera), setup_.apply_figures, setup_.beam, setup_.beam_source};
  const PlacedLoad placed = place_load(dressed, corrections, setup_.machine);
  const ReportOptions report{time, setup_.software_version, setup_.machine, dressed.art, setup_.fixture};
  const std::string closeup = setup_.draw_closeup ? encode_jpeg(closeup_picture(placed.result, photo)) : std::string();
  return {placed.result,
          dressed.art,
          record_of(dressed.load, setup_.fixture, time),
          files_of(placed, std::move(photo), report),
          camera.move_picture,
          closeup};
}

}  // namespace jigtrue
