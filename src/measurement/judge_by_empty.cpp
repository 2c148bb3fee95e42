#include "jigtrue/measurement/judge_by_empty.hpp"

#include "jigtrue/detection/search_picture.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

// What share of a slot's cells must have changed, or those beside it. Traced slots, wood on the same wood and dark on
// dark among them: loaded ones change in 0.57 to 1.00 of their cells, empty ones in 0 to 0.26 (where their neighbours'
// light falls into them). Beside them a hand changes 0.16 and more, and nothing else more than 0.02.
struct ChangeLimits {
  int fewest_cells = 6;     // that tell anything
  double as_it_was = 0.3;   // up to that it is empty as it was
  double otherwise = 0.5;   // from that on something lies there
  double covered = 0.08;    // of what lies beside the slot, from that on
  double beside_mm = 10.0;  // about the slot's outline
};
constexpr ChangeLimits kLimits;

Polyline2d convex(const std::vector<Polyline2d>& lines, double grow_px) {
  std::vector<cv::Point2f> points;
  for (const Polyline2d& line : lines)
    for (const Vector2d& p : line)
      for (int k = 0; k < (grow_px > 0.0 ? 8 : 1); ++k)
        points.emplace_back(static_cast<float>(p.x() + grow_px * std::cos(k * kPi / 4.0)),
                            static_cast<float>(p.y() + grow_px * std::sin(k * kPi / 4.0)));
  Polyline2d out;
  if (points.size() < 3) return out;
  std::vector<cv::Point2f> hull;
  cv::convexHull(points, hull);
  for (const cv::Point2f& p : hull) out.emplace_back(p.x, p.y);
  return out;
}

// A stretch of the blank's course, from here to there along its axis, seen at its own height.
Polyline2d stretch_px(const Camera& camera, const Slot& slot, const BlankPlace& place, double from_mm, double to_mm,
                      double half_width_mm) {
  const Vector2d along(std::cos(place.heading_rad), std::sin(place.heading_rad));
  const Vector2d across(-along.y(), along.x());
  const double height = 0.7 * design_height_mm(slot.blank, slot.seat, place, 0.0);
  Polyline2d out;
  for (const auto& [a, b] : {std::pair(from_mm, -half_width_mm), std::pair(to_mm, -half_width_mm),
                             std::pair(to_mm, half_width_mm), std::pair(from_mm, half_width_mm)}) {
    const Vector2d at = place.centre_mm + a * along + b * across;
    if (const auto px = project_bed_point(camera, {at.x(), at.y(), height})) out.push_back(*px);
  }
  return out;
}

void put_in_doubt(SlotResult& result, const std::string& reason, const std::string& remedy) {
  result.state = SlotState::doubtful;
  result.reasons.assign(1, reason);
  result.remedy = remedy;
  result.numbers.reset();
}

// Where the blank was measured to lie; without its own length and girth.
BlankPlace measured_place(const Slot& slot, const SlotNumbers& numbers) {
  const double heading = rad_from_deg(numbers.axis_deg);
  const double along_mm = slot.design ? slot.design->along_mm : 0.0;
  return {numbers.centre_mm - along_mm * Vector2d(std::cos(heading), std::sin(heading)), heading, 0.0, 0.0};
}

// Nothing has changed just inside one of the ends of a blank that differs from the jig otherwise.
bool end_on_empty_jig(const ChangedCells& changes, const Camera& camera, const Slot& slot, const SlotNumbers& numbers) {
  constexpr double kInside_mm = 8.0;   // of the blank, beside its end: a few cells
  constexpr double kUnchanged = 0.15;  // share of the cells: noise alone changes fewer
  constexpr double kTold = 0.7;        // a blank of the jig's own wood changes less
  const BlankPlace place = measured_place(slot, numbers);
  const double half = length_mm(slot.blank.shape) / 2.0;
  const double width = 0.5 * largest_girth_mm(slot.blank.shape);
  const auto change = [&](double from_mm, double to_mm) {
    return changes.within(stretch_px(camera, slot, place, from_mm, to_mm, width));
  };
  const auto unchanged_at = [&](double end) {
    const PartChange inside = change(end * (half - kInside_mm), end * (half - 0.5));
    return inside.cells >= kLimits.fewest_cells && inside.share <= kUnchanged;
  };
  const double other_mm = std::max(half - kInside_mm, 0.5 * half);
  return change(-other_mm, other_mm).share >= kTold && (unchanged_at(-1.0) || unchanged_at(1.0));
}

}  // namespace

bool SlotChange::as_it_was() const { return within.cells >= kLimits.fewest_cells && within.share <= kLimits.as_it_was; }

bool SlotChange::covered() const { return beside.cells >= kLimits.fewest_cells && beside.share >= kLimits.covered; }

SlotChange change_of_slot(const ChangedCells& changes, const Camera& camera, const Slot& slot,
                          const BlankPlace& expected) {
  const auto lines = outline_polylines(camera, slot.blank, slot.seat, expected);
  const double density = px_per_mm_at(camera, {expected.centre_mm.x(), expected.centre_mm.y(), 0.0});
  const Polyline2d own = convex(lines, 0.0);
  return {changes.within(own), changes.foreign_between(own, convex(lines, kLimits.beside_mm * density))};
}

void judge_by_empty(const ChangedCells& changes, const Camera& camera, const Slot& slot, const BlankPlace& expected,
                    SlotResult& result) {
  const SlotChange change = change_of_slot(changes, camera, slot, expected);
  if (change.covered()) {
    put_in_doubt(result, "covered: something that was not there in the empty photo lies over it or beside it",
                 "clear it away");
    result.covered = true;
    return;
  }
  if (change.as_it_was()) {
    result.state = SlotState::empty;
    result.as_empty_photo = true;
    result.reasons.assign(1, "no blank: it looks as it did in the empty photo");
    result.remedy.clear();
    result.numbers.reset();
    return;
  }
  if (result.state == SlotState::empty && change.within.share >= kLimits.otherwise) {
    put_in_doubt(result, "something lies there that was not in the empty photo, without a blank's outline",
                 "look at it, free its view or light it better");
    return;
  }
  if (result.numbers && end_on_empty_jig(changes, camera, slot, *result.numbers))
    put_in_doubt(result, "one of its ends seems to lie where nothing has changed since the empty photo",
                 "see whether the blank lies against its stop, and whether the file has its place and length right");
}

}  // namespace jigtrue
