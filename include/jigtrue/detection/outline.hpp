// The outline that a declared blank, lying at a supposed place, throws into the picture: points to measure at, with the
// direction to look along and what each parameter of the place does there.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/geometry/revolution.hpp"

#include <array>
#include <vector>

namespace jigtrue {

// Where a blank lies. The seat gives the heights.
struct BlankPlace {
  Vector2d centre_mm = Vector2d::Zero();  // bed, straight above the blank's centre (the middle of its length)
  double heading_rad = 0.0;               // of its axis, counter-clockwise from bed +X
  double girth_mm = 0.0;                  // added to every diameter (plate: to its size across)
  double length_mm = 0.0;                 // added to its length, half at either end

  [[nodiscard]] Vector2d along() const { return unit_vector(heading_rad); }
  [[nodiscard]] Vector2d across() const { return turned_left(along()); }
};

enum class OutlinePart { left, right, start, end };  // left lies on the +across side
inline constexpr int kOutlineParts = 4;              // as listed above
inline constexpr std::array kAllOutlineParts{OutlinePart::left, OutlinePart::right, OutlinePart::start,
                                             OutlinePart::end};
[[nodiscard]] constexpr bool is_side(OutlinePart part) {
  return part == OutlinePart::left || part == OutlinePart::right;
}

// What the place is described by in fits; a column of OutlineSample::by_place each.
enum PlaceParameter { kAcross, kAlong, kTurn, kGirth, kLength, kLift, kPlaceParameters };

struct OutlineSample {
  OutlinePart part = OutlinePart::left;
  double station_mm = 0.0;  // from the blank's centre: along the axis for left and right, across for the ends
  Vector3d point_mm = Vector3d::Zero();
  Vector2d px = Vector2d::Zero();
  Vector2d normal_px = Vector2d::Zero();  // unit, out of the blank
  double px_per_mm = 0.0;                 // image motion along the normal per mm of outward horizontal motion
  bool rim = false;                       // the groove's rim hides the limb here: this is the rim
  // Where the side of a flat blank, or the end face of a turned one, shows beside the edge: how far along the normal it
  // reaches until its own lower edge, px; 0 when it is turned away.
  double wall_px = 0.0;
  double radius_px = 0.0;  // radius of curvature across the limb in px; 0 for a sharp edge
  // Motion of the outline along the normal in px per mm (per rad for the turn about the centre): envelope theorem, the
  // contour moves as the material point under it does.
  Eigen::Matrix<double, 1, kPlaceParameters> by_place = Eigen::Matrix<double, 1, kPlaceParameters>::Zero();
};

// `spacing_px`: distance between neighbours along the outline. Samples whose projection leaves the picture (or nears
// its rim by `margin_px`) are left out. Empty when nothing of it is seen.
enum class OutlineExtent { whole, sides, ends };

struct OutlineOptions {
  OutlineExtent extent = OutlineExtent::whole;  // a disc's is always whole
  double sides_from_mm = 0.0;                   // stations of the sides less far from the middle are left out
  double spacing_px = 2.0;
  double margin_px = 4.0;
};
[[nodiscard]] std::vector<OutlineSample> outline_samples(const Camera& camera, const Blank& blank, const Seat& seat,
                                                         const BlankPlace& place, const OutlineOptions& options = {});

// The axis of a round or turned blank lying at `place` (girth and length included).
[[nodiscard]] AxisFrame axis_at(const Blank& blank, const Seat& seat, const BlankPlace& place);

// The blank's shape with girth and length added.
[[nodiscard]] BlankShape grown(const BlankShape& shape, double girth_mm, double length_mm);

// Points of the crown line (round, turned), or of the top face's middle line (plate), from start to end, bed frame;
// a disc gives its diameter along the heading.
[[nodiscard]] std::vector<Vector3d> crown_line(const Blank& blank, const Seat& seat, const BlankPlace& place);

// Height at which a design lies: the crown at the blank's centre plus `along_mm`, or the top face.
[[nodiscard]] double design_height_mm(const Blank& blank, const Seat& seat, const BlankPlace& place, double along_mm);

// The outline as px polylines for drawing, broken where some of it is not seen.
[[nodiscard]] std::vector<Polyline2d> outline_polylines(const Camera& camera, const Blank& blank, const Seat& seat,
                                                        const BlankPlace& place);

}  // namespace jigtrue
