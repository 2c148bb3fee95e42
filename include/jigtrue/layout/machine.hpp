// The machine that a layout is written for.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <optional>
#include <string>

namespace jigtrue {

// Where the machine's own (0, 0), the bed frame's origin, lies on its bed.
enum class OriginCorner { front_left, front_right, back_left, back_right };
[[nodiscard]] const char* to_string(OriginCorner corner);

struct Machine {
  Vector2d bed_mm = Vector2d::Zero();  // width, depth
  OriginCorner origin_corner = OriginCorner::front_left;
  std::optional<Vector3d> scanning_head_mm;  // bed frame; absent for a beam that comes down along -Z

  // The bed's front-left corner in the bed frame. X runs right and Y away from the operator whichever corner is the
  // origin, so with an origin at the right or at the back this corner has negative coordinates.
  [[nodiscard]] Vector2d front_left_mm() const;
};

// Reads machine.json. Throws InputError naming file, field, value, rule and remedy.
[[nodiscard]] Machine read_machine(const std::string& json_text, const std::string& file_name);

}  // namespace jigtrue
