#include "report/drawn_slot.hpp"

#include "jigtrue/report/annotated_picture.hpp"
#include "jigtrue/report/standing.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

Polyline2d scaled(const Polyline2d& photo_px, double scale) {
  Polyline2d out;
  out.reserve(photo_px.size());
  for (const Vector2d& point : photo_px) {
    if (point.allFinite()) out.emplace_back((point.array() + 0.5) * scale - 0.5);
  }
  return out;
}

// What is to be engraved, bright with a dark edge: legible on any wood.
void draw_art(cv::Mat3b& picture, const DrawnSlot& drawn, const PictureSizes& sizes) {
  std::vector<Polyline2d> filled;
  const int fine = std::max(1, sizes.line_px / 3);
  for (const ArtLine& line : drawn.art) {
    draw::polyline(picture, line.px, draw::Ends::open, {draw::kInk, fine + 4, 0});
    if (line.filled) filled.push_back(line.px);
  }
  draw::fill(picture, filled, draw::kIvory);
  for (const ArtLine& line : drawn.art)
    if (!line.filled) draw::polyline(picture, line.px, draw::Ends::open, {draw::kIvory, fine, 0});
}

}  // namespace

PictureSizes sizes_for(double unit) {
  PictureSizes sizes;
  sizes.unit = std::max(0.5, unit);
  sizes.font = {22.0 * sizes.unit, false};
  sizes.strong = {25.0 * sizes.unit, true};
  sizes.line_px = std::max(1, static_cast<int>(std::lround(3.0 * sizes.unit)));
  sizes.gap_px = 10.0 * sizes.unit;
  return sizes;
}

Vector2d middle(const Polyline2d& points) {
  Vector2d sum = Vector2d::Zero();
  for (const Vector2d& point : points) sum += point;
  return points.empty() ? sum : Vector2d(sum / static_cast<double>(points.size()));
}

void add_axes(const SlotResult& slot, double scale, double length_px, DrawnSlot& drawn) {
  const Polyline2d& line = slot.sketch.centreline.size() > 1 ? slot.sketch.centreline : slot.sketch.nominal_centreline;
  if (!slot.sketch.photo_from_design) return;
  const Matrix3d& map = *slot.sketch.photo_from_design;
  const auto at = [&](double along, double across) -> Vector2d {
    return (map * Vector3d(along, across, 1.0)).hnormalized();
  };
  const Vector2d origin = at(0.0, 0.0);
  const Vector2d along = (at(1.0, 0.0) - origin).normalized();
  const Vector2d across = (at(0.0, 1.0) - origin).normalized();
  double ahead = line.size() > 1 ? (line.back() - origin).dot(along) : 0.0;
  for (const Polyline2d& piece : slot.sketch.outline)
    for (const Vector2d& point : piece) ahead = std::max(ahead, (point - origin).dot(along));
  const Vector2d start = origin + (ahead + 0.4 * length_px / scale) * along;
  drawn.along = scaled({start, start + length_px / scale * along}, scale);
  drawn.across = scaled({start, start + 0.6 * length_px / scale * across}, scale);
}

void move_drawn(DrawnSlot& drawn, const Vector2d& by) {
  const auto move = [&](Polyline2d& line) {
    for (Vector2d& point : line) point += by;
  };
  for (Polyline2d& piece : drawn.outline) move(piece);
  for (ArtLine& line : drawn.art) move(line.px);
  for (Polyline2d* line :
       {&drawn.centreline, &drawn.design_box, &drawn.all_outline_points, &drawn.along, &drawn.across})
    move(*line);
  for (Vector2d* point : {&drawn.label, &drawn.nominal, &drawn.corrected}) *point += by;
}

DrawnSlot drawn_from(const SlotResult& slot, double scale) {
  DrawnSlot drawn;
  drawn.slot = &slot;
  drawn.style = &style_of(standing(slot));
  for (const Polyline2d& piece : slot.sketch.outline) {
    drawn.outline.push_back(scaled(piece, scale));
    const Polyline2d& points = drawn.outline.back();
    drawn.all_outline_points.insert(drawn.all_outline_points.end(), points.begin(), points.end());
  }
  drawn.centreline = scaled(slot.sketch.centreline, scale);
  drawn.design_box = scaled(slot.sketch.design_box, scale);
  for (const ArtLine& line : slot.sketch.art) drawn.art.push_back({scaled(line.px, scale), line.filled});
  const Polyline2d label = scaled({slot.sketch.label_px}, scale);
  drawn.label = label.empty() ? middle(drawn.all_outline_points) : label.front();
  const bool boxes = !slot.sketch.design_box.empty() && !slot.sketch.nominal_design_box.empty();
  const Polyline2d nominal = scaled(boxes ? slot.sketch.nominal_design_box : slot.sketch.nominal_centreline, scale);
  const Polyline2d& corrected = boxes ? drawn.design_box : drawn.centreline;
  drawn.nominal = middle(nominal);
  drawn.corrected = middle(corrected);
  drawn.moves = slot.state == SlotState::found && slot.numbers && !nominal.empty() && !corrected.empty();
  return drawn;
}

Vector2d compass_place(const std::vector<DrawnSlot>& slots, const cv::Size& picture, const Vector2d& size) {
  Vector2d best = Vector2d::Zero();
  int fewest = -1;
  for (const double y : {picture.height - size.y(), 0.0}) {
    for (const double x : {0.0, picture.width - size.x()}) {
      int hidden = 0;
      for (const DrawnSlot& slot : slots)
        for (const Vector2d& point : slot.all_outline_points)
          hidden += point.x() > x && point.x() < x + size.x() && point.y() > y && point.y() < y + size.y() ? 1 : 0;
      if (fewest >= 0 && hidden >= fewest) continue;
      fewest = hidden;
      best = {x, y};
    }
  }
  return best;
}

void draw_slot(cv::Mat3b& picture, const DrawnSlot& drawn, const PictureSizes& sizes) {
  const draw::Colour colour = draw::colour(drawn.style->on_photo);
  const int casing = std::max(1, sizes.line_px / 2);
  const draw::Pen outline{colour, sizes.line_px, casing, drawn.style->dash_on * sizes.line_px,
                          drawn.style->dash_off * sizes.line_px};
  for (const Polyline2d& piece : drawn.outline) {
    const bool closed = piece.size() > 2 && (drawn.outline.size() == 1);
    draw::polyline(picture, piece, closed ? draw::Ends::closed : draw::Ends::open, outline);
  }
  const int thin = std::max(1, sizes.line_px / 2);
  if (drawn.moves) {
    draw::polyline(picture, drawn.centreline, draw::Ends::open, {colour, thin, 0, 14.0 * sizes.unit, 8.0 * sizes.unit});
    draw::polyline(picture, drawn.design_box, draw::Ends::closed, {draw::kIvory, thin, 1});
  }
  draw_art(picture, drawn, sizes);
}

void draw_axes(cv::Mat3b& picture, const DrawnSlot& drawn, const PictureSizes& sizes) {
  if (drawn.along.size() < 2) return;
  const draw::Pen pen{draw::kIvory, std::max(1, sizes.line_px * 2 / 3), 1};
  draw::arrow(picture, drawn.along.front(), drawn.along.back(), pen);
  draw::arrow(picture, drawn.across.front(), drawn.across.back(), pen);
}

}  // namespace jigtrue
