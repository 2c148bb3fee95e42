#include "jigtrue/report/annotated_picture.hpp"

#include <algorithm>
#include <vector>

#include "report/photo_part.hpp"
#include "report/slot_labels.hpp"

namespace jigtrue {

cv::Mat3b closeup_picture(const CheckResult& result, const Photo& photo) {
  constexpr double kSide_px = 1400.0;
  constexpr double kRoom = 0.12;  // for the names
  PhotoExtent extent;
  for (const SlotResult& slot : result.slots)
    for (const Polyline2d& piece : slot.sketch.outline) extent.add(piece);
  PhotoPart part = photo_part(photo, extent, kRoom, kSide_px);
  cv::Mat3b& out = part.bgr;
  // 22 px of text on 1600, as on the whole photo, are too small on a phone
  const PictureSizes sizes = sizes_for(2.4 * std::max(out.cols, out.rows) / static_cast<double>(kAnnotatedSide_px));
  std::vector<DrawnSlot> slots;
  slots.reserve(result.slots.size());
  for (const SlotResult& slot : result.slots) {
    slots.push_back(drawn_from(slot, part.scale));
    add_axes(slot, part.scale, 24.0 * sizes.unit, slots.back());
    move_drawn(slots.back(), -part.origin);
  }
  PictureSizes lines = sizes;
  lines.line_px = std::max(1, sizes.line_px / 2);
  for (const DrawnSlot& slot : slots) {
    draw_slot(out, slot, lines);
    draw_axes(out, slot, lines);
  }
  if (result.directions) {
    draw::Font font = sizes.font;
    font.height_px *= 0.7;
    const Vector2d size = draw::compass_size(*result.directions, font);
    draw::compass(out, *result.directions, compass_place(slots, out.size(), size), font);
  }
  draw_labels(out, slots, LabelText::name_alone, sizes);
  return out;
}

}  // namespace jigtrue
