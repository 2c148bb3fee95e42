// A photo of a load after burning -> what was burned on each blank, and where.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/inspection/inspection_result.hpp"
#include "jigtrue/layout/machine.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// Where a layout put a slot's design, as the camera's frame has it (a machine's correction taken off).
struct LaidDesign {
  std::string slot_id;
  Vector2d centre_mm = Vector2d::Zero();
  double axis_deg = 0.0;
};

// What was to be burned.
struct LaidLoad {
  Fixture fixture;
  std::vector<LaidDesign> placed;  // slots that were left out are missing
  DesignArt art;
  std::optional<Machine> machine;
  std::optional<MachineReading> machine_reading;  // what the load's report knew of the machine
  bool machine_applied = false;                   // the machine's own errors were corrected
  std::optional<BeamOffset> beam_applied;         // what was taken off of the beam's offset
  std::string photo_digest;                       // of the photo that it was laid out by
  bool proof = false;                             // one slot's frame, burned on tape over its blank
};

struct InspectOptions {
  double lens_error_px = 0.0;
  int threads = 2;  // results do not depend on it
};

// `blanks`: the load measured anew in this same photo, in the fixture's order.
[[nodiscard]] InspectionResult inspect_load(const Photo& photo, const Camera& camera, const CheckResult& blanks,
                                            const LaidLoad& laid, const InspectOptions& options);

}  // namespace jigtrue
