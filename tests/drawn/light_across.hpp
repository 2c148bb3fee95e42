// Light in the plane square to the blanks' axes: what of a sky and a lamp reaches a point between grooves and rods. v
// runs across, z up, mm.
#pragma once
#include <array>

#include "drawn/drawn_bed.hpp"

namespace jigtrue::test {

struct Circle {
  Vector2d centre_mm;
  double radius_mm = 0.0;
};

// What stands in the way: closed walls from one point to the next, and rods.
struct Profile {
  std::vector<std::array<Vector2d, 2>> walls;
  std::vector<Circle> rods;
};

// Irradiance of a surface at `at` with unit normal `normal`, 1 under the open sky facing up (about; the lamp's share by
// its height).
[[nodiscard]] double irradiance(const Profile& profile, const DrawnLight& light, const Vector2d& towards_lamp,
                                const Vector2d& at, const Vector2d& normal);

}  // namespace jigtrue::test
