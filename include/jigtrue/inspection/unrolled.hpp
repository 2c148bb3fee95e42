// A blank's surface as a beam sees it: the photo's light, laid out in the plane in which designs are placed.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/layout/machine.hpp"

#include <optional>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// A blank as it lies, and the beam that reaches it.
struct BurnedSurface {
  Blank blank;
  Seat seat;
  BlankPlace place;
  std::optional<Vector3d> head_mm;  // of a scanning beam, bed; absent: it comes down along -Z
  double margin_mm = 0.35;  // of the outline, seen from above, left out: what lies there may be beside the blank
  double cover_mm = 0.0;    // how thick a layer lies over it: tape
  double focus_mm = 0.0;    // height of the plane that places speak of: the crown's

  // Where the beam that is told `bed_mm` meets the blank; nothing where it misses it.
  [[nodiscard]] std::optional<Vector3d> met_at(const Vector2d& bed_mm) const;
  // The blank's height straight above or below a bed point; nothing beside the blank.
  [[nodiscard]] std::optional<double> height_at(const Vector2d& bed_mm) const;
};

// A frame in the bed's plane: u along `heading`, v to its left.
struct PlanFrame {
  Vector2d origin_mm = Vector2d::Zero();
  double heading_rad = 0.0;

  [[nodiscard]] Vector2d bed(const Vector2d& uv_mm) const;
  [[nodiscard]] Vector2d uv(const Vector2d& bed_mm) const;
};

struct Unrolled {
  PlanFrame frame;
  double pitch_mm = 0.0;
  Vector2d low_mm = Vector2d::Zero();  // u, v of the first column's and row's centre
  // Light in linear measure, 0 to 1: sRGB's curve undone (IEC 61966-2-1), its luminance weights.
  cv::Mat1f light;
  cv::Mat1b seen;  // 255 where the camera sees the blank's surface, not too obliquely and not burned out
  Vector2d px_per_mm = Vector2d::Ones();  // of the photo, along u and v, at the origin

  [[nodiscard]] Vector2d uv(int column, int row) const { return low_mm + pitch_mm * Vector2d(column, row); }
};

// `box`: u, v. Places beside the blank, and within its margin, are not seen.
[[nodiscard]] Unrolled unroll(const Photo& photo, const Camera& camera, const BurnedSurface& surface,
                              const PlanFrame& frame, const InkBox& box, double pitch_mm);

// How many pixels the camera gives a millimetre of the surface along u and v there; nothing where it does not see it.
[[nodiscard]] std::optional<Vector2d> px_per_mm_at(const Camera& camera, const BurnedSurface& surface,
                                                   const PlanFrame& frame);

// sRGB's value, 0 to 255, in linear measure, 0 to 1.
[[nodiscard]] double linear_light(double srgb);

}  // namespace jigtrue
