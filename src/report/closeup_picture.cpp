#include "jigtrue/report/annotated_picture.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "report/slot_labels.hpp"

namespace jigtrue {
namespace {

void move(Polyline2d& line, const Vector2d& by) {
  for (Vector2d& point : line) point += by;
}

void move(DrawnSlot& drawn, const Vector2d& by) {
  for (Polyline2d& piece : drawn.outline) move(piece, by);
  for (ArtLine& line : drawn.art) move(line.px, by);
  for (Polyline2d* line : {&drawn.centreline, &drawn.design_box, &drawn.all_outline_points}) move(*line, by);
  for (Vector2d* point : {&drawn.label, &drawn.nominal, &drawn.corrected}) *point += by;
}

// All outlines, with room about them for the names.
cv::Rect about_the_slots(const CheckResult& result, const Photo& photo) {
  Vector2d low = Vector2d::Constant(1e9);
  Vector2d high = Vector2d::Constant(-1e9);
  for (const SlotResult& slot : result.slots)
    for (const Polyline2d& piece : slot.sketch.outline)
      for (const Vector2d& point : piece) {
        if (!point.allFinite()) continue;
        low = low.cwiseMin(point);
        high = high.cwiseMax(point);
      }
  const cv::Rect all(0, 0, photo.width_px(), photo.height_px());
  if (!(low.x() < high.x() && low.y() < high.y())) return all;
  const double room = 0.12 * (high - low).maxCoeff();
  const Vector2d from = low.array() - room;
  const Vector2d size = (high - low).array() + 2.0 * room;
  const cv::Rect part = cv::Rect2d(from.x(), from.y(), size.x(), size.y()) & cv::Rect2d(all);
  return part.empty() ? all : part;
}

}  // namespace

cv::Mat3b closeup_picture(const CheckResult& result, const Photo& photo) {
  constexpr double kSide_px = 1400.0;
  const cv::Rect part = about_the_slots(result, photo);
  const double scale = std::min(1.0, kSide_px / std::max(part.width, part.height));
  // the whole photo shrunk first: a part's chroma need not begin where its luma does
  ShrunkPicture whole =
      shrink(photo, static_cast<int>(std::lround(scale * std::max(photo.width_px(), photo.height_px()))));
  const cv::Rect cut = cv::Rect(cv::Point(cvRound(part.x * whole.scale), cvRound(part.y * whole.scale)),
                                cv::Size(cvRound(part.width * whole.scale), cvRound(part.height * whole.scale))) &
                       cv::Rect(cv::Point(), whole.bgr.size());
  cv::Mat3b out = whole.bgr(cut).clone();
  whole.bgr.release();
  // 22 px of text on 1600, as on the whole photo, are too small on a phone
  const PictureSizes sizes = sizes_for(2.4 * std::max(out.cols, out.rows) / static_cast<double>(kAnnotatedSide_px));
  std::vector<DrawnSlot> slots;
  slots.reserve(result.slots.size());
  for (const SlotResult& slot : result.slots) {
    slots.push_back(drawn_from(slot, whole.scale));
    move(slots.back(), -Vector2d(cut.x, cut.y));
  }
  PictureSizes lines = sizes;
  lines.line_px = std::max(1, sizes.line_px / 2);
  for (const DrawnSlot& slot : slots) draw_slot(out, slot, lines);
  draw_labels(out, slots, LabelText::name_alone, sizes);
  return out;
}

}  // namespace jigtrue
