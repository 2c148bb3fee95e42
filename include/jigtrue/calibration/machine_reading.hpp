// What burned marks said about the machine, as camera.json keeps it.
#pragma once
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/json/json_file.hpp"

#include <optional>
#include <string>

namespace jigtrue {

struct Figure {
  double value = 0.0;
  double u95 = 0.0;  // half-width, 95 %
};

struct MachineFigures {
  Figure scale_x_less_y;          // sx - sy, relative
  Figure squareness_deg;          // angle between +X and +Y less 90
  std::optional<Figure> scale_x;  // against a board's camera only
  std::optional<Figure> scale_y;
  double rest_mm = 0.0;  // root mean square per mark of what all this leaves; 0 with too few marks to tell
  int marks = 0;
};

// From the bed as the camera's file shows it to the coordinates that the machine must be told so that its beam lands
// there: beam = middle + beam_from_bed (bed - middle). The camera was placed by the same marks, so a shift, a turn and
// a scale common to both axes are in its file already; what is left is the difference of the axes' scales and their
// squareness.
struct BeamMap {
  Vector2d middle_mm = Vector2d::Zero();  // of the marks, bed frame
  Matrix2d beam_from_bed = Matrix2d::Identity();
  Matrix2d covariance = Matrix2d::Zero();  // of [scale along X less Y, squareness (rad)]

  [[nodiscard]] Vector2d at(const Vector2d& bed_mm) const;
  // Standard uncertainty of what at() changes, one axis, the less certain one. The camera's own place, fitted with
  // these figures, states a wider uncertainty: nothing needs to be added to that.
  [[nodiscard]] double sigma_mm(const Vector2d& bed_mm) const;
  // By how much a direction on the bed must be turned, counter-clockwise.
  [[nodiscard]] double turn_rad(double heading_rad) const;
  [[nodiscard]] double turn_sigma_rad(double heading_rad) const;
};

struct MachineReading {
  MachineFigures figures;
  BeamMap map;
};

// As an object of camera.json and report.json.
[[nodiscard]] nlohmann::ordered_json machine_json(const MachineReading& machine);
[[nodiscard]] MachineReading read_machine_reading(const JsonField& field);  // throws InputError

}  // namespace jigtrue
