#include "measurement/slot_regions.hpp"

#include "jigtrue/detection/search_picture.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

// How far beyond the outlines of its blanks a jig's parts reach: common practice, no source.
struct JigReach {
  double of_slot_mm = 2.5;  // a blank may lie that far beside its outline
  double of_jig_mm = 4.0;   // so far there is jig and not bed
  double looked_mm = 14.0;  // and so far is looked at, for what lies about the jig
};
constexpr JigReach kReach;
constexpr double kFaceOfCrown = 0.7;  // a jig's face lies about so high, of its blanks' crowns

std::vector<cv::Point> small_points(const Polyline2d& line, const PictureCells& cells) {
  std::vector<cv::Point> points;
  for (const Vector2d& px : line)
    points.emplace_back(static_cast<int>(std::lround(
                            16.0 * (((px.x() + 0.5) / cells.shrink - 0.5 - cells.roi.x + 0.5) / cells.cell_px - 0.5))),
                        static_cast<int>(std::lround(
                            16.0 * (((px.y() + 0.5) / cells.shrink - 0.5 - cells.roi.y + 0.5) / cells.cell_px - 0.5))));
  return points;
}

Polyline2d hull_of(const std::vector<Vector2d>& points) {
  std::vector<cv::Point2f> in;
  in.reserve(points.size());
  for (const Vector2d& p : points) in.emplace_back(static_cast<float>(p.x()), static_cast<float>(p.y()));
  std::vector<cv::Point2f> out;
  cv::convexHull(in, out);
  Polyline2d hull;
  for (const cv::Point2f& p : out) hull.emplace_back(p.x, p.y);
  return hull;
}

// Moved outwards by so many px from its middle, every corner by itself: for outlines that are convex.
Polyline2d grown_outline(const Polyline2d& hull, double by_px) {
  if (hull.size() < 3) return hull;
  std::vector<Vector2d> points;
  for (const Vector2d& p : hull)
    for (int k = 0; k < 8; ++k)
      points.push_back(p + by_px * Vector2d(std::cos(k * kPi / 4.0), std::sin(k * kPi / 4.0)));
  return hull_of(points);
}

}  // namespace

cv::Mat1b filled(const std::vector<Polyline2d>& lines, const PictureCells& cells) {
  cv::Mat1b mask = cv::Mat1b::zeros(cells.size());
  for (const Polyline2d& line : lines) {
    const std::vector<cv::Point> points = small_points(line, cells);
    if (points.size() >= 3)
      cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(1), cv::LINE_8, 4);
  }
  return mask;
}

std::optional<SlotRegions> slot_regions(const Camera& camera, const Fixture& fixture,
                                        const std::vector<BlankPlace>& places) {
  SlotRegions regions;
  std::vector<Polyline2d> outlines;
  std::vector<Vector2d> all;
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    const Slot& slot = fixture.slots[i];
    std::vector<Vector2d> own;
    for (const Polyline2d& line : outline_polylines(camera, slot.blank, slot.seat, places[i]))
      own.insert(own.end(), line.begin(), line.end());
    if (own.size() < 3) continue;
    outlines.push_back(hull_of(own));
    all.insert(all.end(), own.begin(), own.end());
    regions.height_mm += design_height_mm(slot.blank, slot.seat, places[i], 0.0);
    const double density = px_per_mm_at(camera, {places[i].centre_mm.x(), places[i].centre_mm.y(), 0.0});
    if (density > 0.0) least = std::min(least, density);
  }
  if (outlines.empty() || !std::isfinite(least)) return std::nullopt;
  regions.height_mm *= kFaceOfCrown / static_cast<double>(outlines.size());
  regions.px_per_mm = least;
  regions.slots.reserve(outlines.size());
  for (const Polyline2d& outline : outlines) regions.slots.push_back(grown_outline(outline, kReach.of_slot_mm * least));
  const Polyline2d all_slots = hull_of(all);
  regions.among = grown_outline(all_slots, kReach.of_jig_mm * least);
  regions.around = grown_outline(all_slots, kReach.looked_mm * least);
  return regions;
}

}  // namespace jigtrue
