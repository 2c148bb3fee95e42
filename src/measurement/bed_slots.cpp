#include "measurement/bed_slots.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace jigtrue {

bool is_disc(const Slot& slot) { return std::holds_alternative<DiscBlank>(slot.blank.shape); }

Slot slot_at(const Slot& kind, const BlankPlace& place) {
  Slot slot = kind;
  slot.centre_mm = place.centre_mm;
  slot.axis_deg = is_disc(kind) ? 0.0 : deg_from_rad(place.heading_rad);
  return slot;
}

double shared_area(const Slot& a, const Slot& b, double margin_mm) {
  const double distance_mm = (b.centre_mm - a.centre_mm).norm();
  const double across_mm = largest_girth_mm(a.blank.shape) - 2.0 * margin_mm;
  if (is_disc(a)) {
    const double d = distance_mm / across_mm;
    return d >= 1.0 ? 0.0 : 2.0 / kPi * (std::acos(d) - d * std::sqrt(1.0 - d * d));
  }
  const double along_mm = length_mm(a.blank.shape) - 2.0 * margin_mm;
  if (distance_mm > std::hypot(along_mm, across_mm)) return 0.0;
  const auto box = [&](const Slot& slot) {
    return cv::RotatedRect(cv::Point2f(static_cast<float>(slot.centre_mm.x()), static_cast<float>(slot.centre_mm.y())),
                           cv::Size2f(static_cast<float>(along_mm), static_cast<float>(across_mm)),
                           static_cast<float>(slot.axis_deg));
  };
  std::vector<cv::Point2f> corners;
  if (cv::rotatedRectangleIntersection(box(a), box(b), corners) == cv::INTERSECT_NONE || corners.size() < 3) return 0.0;
  std::vector<cv::Point2f> hull;
  cv::convexHull(corners, hull);
  return cv::contourArea(hull) / (along_mm * across_mm);
}

bool lies_across(const Slot& a, const Slot& b) {
  constexpr double kLong = 2.5;       // times as long as wide: else another direction is another reading of it
  constexpr double kAskew_deg = 8.0;  // more than two readings of one blank differ by
  return !is_disc(a) && length_mm(a.blank.shape) > kLong * largest_girth_mm(a.blank.shape) &&
         std::abs(std::remainder(a.axis_deg - b.axis_deg, 180.0)) > kAskew_deg && shared_area(a, b, 0.0) > 0.0;
}

std::string runs_off(const Camera& camera, const Slot& slot, double margin_px) {
  const double axis = rad_from_deg(slot.axis_deg);
  const Vector2d along = unit_vector(axis);
  const Vector2d across = turned_left(along);
  const double half_length = 0.5 * length_mm(slot.blank.shape);
  const double half_girth = is_disc(slot) ? 0.0 : 0.5 * largest_girth_mm(slot.blank.shape);
  const double height = is_flat(slot.blank.shape) ? top_face_mm(slot.blank.shape, slot.seat)
                                                  : resting_axis(slot.blank.shape, slot.seat).height_at_start_mm;
  std::string side;
  for (const Vector2d& corner : {Vector2d(1, 1), Vector2d(1, -1), Vector2d(-1, 1), Vector2d(-1, -1)}) {
    const Vector2d mm = slot.centre_mm + corner.x() * half_length * along + corner.y() * half_girth * across;
    const auto px = project_bed_point(camera, {mm.x(), mm.y(), height});
    if (!px || px->x() < margin_px)
      side = "left";
    else if (px->x() > camera.lens.width_px - 1 - margin_px)
      side = "right";
    else if (px->y() < margin_px)
      side = "upper";
    else if (px->y() > camera.lens.height_px - 1 - margin_px)
      side = "lower";
  }
  return side;
}

}  // namespace jigtrue
