// The outline of a surface of revolution seen from a point: exact, for any central camera.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <array>
#include <optional>

namespace jigtrue {

// Orthonormal frame of an axis in space: `along` the axis, `side` horizontal (along turned by +90 degrees seen from
// above), `up` = along x side. `origin` is the axis point at distance 0.
struct AxisFrame {
  Vector3d origin_mm = Vector3d::Zero();
  Vector3d along = Vector3d::UnitX();
  Vector3d side = Vector3d::UnitY();
  Vector3d up = Vector3d::UnitZ();

  [[nodiscard]] Vector3d at(double distance_mm) const { return origin_mm + distance_mm * along; }
};

// Turned by `heading_rad` about the vertical, rising by `tilt_rad` along the axis.
[[nodiscard]] AxisFrame make_axis_frame(const Vector3d& origin_mm, double heading_rad, double tilt_rad);

struct OutlinePoint {
  Vector3d point_mm;
  Vector3d normal;  // unit, outward
};

// The two points of the contour generator on the parallel circle at `distance_mm`, where the radius is `radius_mm` and
// grows by `slope` per mm: [0] on the +side, [1] on the -side. With q = axis point - eye the surface point
// P = q + r (cos f side + sin f up) has the normal N ~ cos f side + sin f up - slope along, and N . P = 0 reads
//   (side . q) cos f + (up . q) sin f = slope (along . q) - r,
// two solutions f, or none when the circle is seen from inside its cone (Cipolla & Giblin, Visual Motion of Curves and
// Surfaces, 2000, ch. 2 gives the condition N . P = 0; the solution is the textbook one).
[[nodiscard]] std::optional<std::array<OutlinePoint, 2>> contour_generator(const AxisFrame& axis, double distance_mm,
                                                                           double radius_mm, double slope,
                                                                           const Vector3d& eye_mm);

// Angle (in the parallel circle's plane, from `side` towards `up`) that faces the eye.
[[nodiscard]] double facing_angle_rad(const AxisFrame& axis, double distance_mm, const Vector3d& eye_mm);

}  // namespace jigtrue
