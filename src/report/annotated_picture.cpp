#include "jigtrue/report/annotated_picture.hpp"

#include <algorithm>
#include <cmath>

#include "report/picture_legend.hpp"
#include "report/slot_labels.hpp"

namespace jigtrue {
namespace {

// How much larger than life the arrows are: the largest of a few round factors that keeps the longest one in bounds.
int arrow_factor(const std::vector<DrawnSlot>& slots, const PictureSizes& sizes) {
  double longest = 0.0;
  for (const DrawnSlot& slot : slots) {
    if (slot.moves) longest = std::max(longest, (slot.corrected - slot.nominal).norm());
  }
  int factor = 1;
  for (const int candidate : {2, 5, 10, 20}) {
    if (candidate * longest <= 80.0 * sizes.unit) factor = candidate;
  }
  return factor;
}

// An arrow too short to see tells nothing, and what is to be engraved must not be hidden by one.
bool shows_arrow(const DrawnSlot& slot, int factor, const PictureSizes& sizes) {
  return slot.moves && slot.art.empty() && factor * (slot.corrected - slot.nominal).norm() >= 6.0 * sizes.unit;
}

void draw_arrows(cv::Mat3b& picture, const std::vector<DrawnSlot>& slots, int factor, const PictureSizes& sizes) {
  const draw::Pen pen{draw::kIvory, sizes.line_px, std::max(1, sizes.line_px / 2)};
  for (const DrawnSlot& slot : slots) {
    if (!shows_arrow(slot, factor, sizes)) continue;
    draw::arrow(picture, slot.nominal, slot.nominal + factor * (slot.corrected - slot.nominal), pen);
  }
}

}  // namespace

cv::Mat3b annotated_picture(const CheckResult& result, ShrunkPicture photo, const std::vector<std::string>& remarks) {
  const PictureSizes sizes =
      sizes_for(std::max(photo.bgr.cols, photo.bgr.rows) / static_cast<double>(kAnnotatedSide_px));
  std::vector<DrawnSlot> slots;
  for (const SlotResult& slot : result.slots) {
    slots.push_back(drawn_from(slot, photo.scale));
    add_axes(slot, photo.scale, 42.0 * sizes.unit, slots.back());
  }
  const bool axes = std::any_of(slots.begin(), slots.end(), [](const DrawnSlot& slot) { return !slot.along.empty(); });

  const int factor = arrow_factor(slots, sizes);
  const bool arrows =
      std::any_of(slots.begin(), slots.end(), [&](const DrawnSlot& slot) { return shows_arrow(slot, factor, sizes); });
  const cv::Mat3b strip = legend(result, photo.bgr.cols, {arrows, factor, axes}, remarks, sizes);
  cv::Mat3b out(photo.bgr.rows + strip.rows, photo.bgr.cols);
  cv::Mat3b top = out.rowRange(0, photo.bgr.rows);
  photo.bgr.copyTo(top);
  strip.copyTo(out.rowRange(photo.bgr.rows, out.rows));
  photo.bgr.release();
  for (const DrawnSlot& slot : slots) draw_slot(top, slot, sizes);
  draw_arrows(top, slots, factor, sizes);
  for (const DrawnSlot& slot : slots) draw_axes(top, slot, sizes);
  if (result.directions)
    draw::compass(top, *result.directions,
                  compass_place(slots, top.size(), draw::compass_size(*result.directions, sizes.font)), sizes.font);
  draw_labels(top, slots, LabelText::name_and_move, sizes);
  return out;
}

}  // namespace jigtrue
