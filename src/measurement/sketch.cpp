#include "jigtrue/measurement/sketch.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

Polyline2d projected(const Camera& camera, const std::vector<Vector3d>& points) {
  Polyline2d line;
  for (const Vector3d& point : points)
    if (const auto px = project_bed_point(camera, point)) line.push_back(*px);
  return line;
}

// Straight lines bend in a wide lens: a few points between.
std::vector<Vector3d> finer(const std::vector<Vector3d>& points, int pieces) {
  std::vector<Vector3d> result;
  for (std::size_t i = 1; i < points.size(); ++i)
    for (int k = 0; k < pieces; ++k) result.push_back(points[i - 1] + (points[i] - points[i - 1]) * k / pieces);
  if (!points.empty()) result.push_back(points.back());
  return result;
}

Polyline2d box_on(const Camera& camera, const Slot& slot, const BlankPlace& place) {
  if (!slot.design) return {};
  const Vector3d along(std::cos(place.heading_rad), std::sin(place.heading_rad), 0.0);
  const Vector3d across(-along.y(), along.x(), 0.0);
  Vector3d centre = Vector3d(place.centre_mm.x(), place.centre_mm.y(), 0.0) + slot.design->along_mm * along;
  centre.z() = design_height_mm(slot.blank, slot.seat, place, slot.design->along_mm);
  const Vector3d w = 0.5 * slot.design->width_mm * along;
  const Vector3d h = 0.5 * slot.design->height_mm * across;
  Polyline2d box =
      projected(camera, finer({centre - w - h, centre + w - h, centre + w + h, centre - w + h, centre - w - h}, 6));
  if (!box.empty()) box.pop_back();
  return box;
}

}  // namespace

SlotSketch sketch_slot(const Camera& camera, const Slot& slot, const BlankPlace& expected,
                       const std::optional<BlankPlace>& measured) {
  const BlankPlace nominal{slot.centre_mm, rad_from_deg(slot.axis_deg), 0.0, 0.0};
  SlotSketch sketch;
  sketch.outline = outline_polylines(camera, slot.blank, slot.seat, measured.value_or(expected));
  sketch.nominal_centreline = projected(camera, finer(crown_line(slot.blank, slot.seat, nominal), 8));
  sketch.nominal_design_box = box_on(camera, slot, nominal);
  if (measured) {
    sketch.centreline = projected(camera, finer(crown_line(slot.blank, slot.seat, *measured), 8));
    sketch.design_box = box_on(camera, slot, *measured);
  }
  // the name stands beyond the end that lies further left in the picture
  double leftmost = 1e18;
  for (const Polyline2d& line : sketch.outline)
    for (const Vector2d& px : line)
      if (px.x() < leftmost) {
        leftmost = px.x();
        sketch.label_px = px;
      }
  return sketch;
}

}  // namespace jigtrue
