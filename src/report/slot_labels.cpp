#include "report/slot_labels.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/report/standing.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>

#include "report/place_labels.hpp"

namespace jigtrue {
namespace {

std::string short_name(const std::string& id) {
  constexpr std::size_t kLongest = 14;
  const std::string ascii = ascii_text(id);
  return ascii.size() <= kLongest ? ascii : ascii.substr(0, kLongest - 2) + "..";
}

std::string label_text(const SlotResult& slot) {
  if (standing(slot) != Standing::ready || !slot.numbers) return style_of(standing(slot)).word;
  const SlotNumbers& n = *slot.numbers;
  return (n.along_mm ? signed_text(*n.along_mm, 2) : std::string("-")) + " / " + signed_text(n.across_mm, 2) + " mm";
}

struct Label {
  std::string name;
  std::string text;
};

// symbol, name, text, with gaps
cv::Size label_size(const Label& label, bool brief, const PictureSizes& sizes) {
  double width = 2.5 * sizes.gap_px + symbol_side(sizes.font) + draw::text_width(label.name, sizes.strong);
  if (!brief) width += 1.2 * sizes.gap_px + draw::text_width(label.text, sizes.font);
  return {static_cast<int>(std::ceil(width)) + sizes.line_px,
          static_cast<int>(std::ceil(sizes.strong.height_px + 1.6 * sizes.gap_px))};
}

void draw_label(cv::Mat3b& picture, const DrawnSlot& drawn, const Label& label, const LabelPlace& place,
                const PictureSizes& sizes) {
  const draw::Colour colour = draw::colour(drawn.style->on_photo);
  draw::plate(picture, place.area);
  picture(cv::Rect(place.area.x, place.area.y, sizes.line_px, place.area.height) &
          cv::Rect(0, 0, picture.cols, picture.rows))
      .setTo(colour);
  const double side = symbol_side(sizes.font);
  const double middle_y = place.area.y + place.area.height / 2.0;
  double x = place.area.x + sizes.line_px + 0.7 * sizes.gap_px;
  draw::symbol(picture, drawn.style->standing, {x + side / 2.0, middle_y}, side, colour);
  x += side + 0.9 * sizes.gap_px;
  draw::text(picture, label.name, {x, middle_y + sizes.strong.height_px / 2.0}, sizes.strong, colour);
  x += draw::text_width(label.name, sizes.strong) + 1.2 * sizes.gap_px;
  if (!place.brief)
    draw::text(picture, label.text, {x, middle_y + sizes.font.height_px / 2.0}, sizes.font, draw::kIvory);
}

// From a label's edge to the nearest point of its own slot's outline.
struct Leader {
  Vector2d label = Vector2d::Zero();
  Vector2d slot = Vector2d::Zero();
};

std::optional<Leader> leader(const DrawnSlot& drawn, const cv::Rect& area) {
  const Polyline2d& points = drawn.all_outline_points;
  if (points.empty()) return std::nullopt;
  const Vector2d low(area.x, area.y);
  const Vector2d high(area.x + area.width, area.y + area.height);
  const auto edge = [&](const Vector2d& point) -> Vector2d { return point.cwiseMax(low).cwiseMin(high); };
  const auto distance = [&](const Vector2d& point) { return (point - edge(point)).squaredNorm(); };
  const Vector2d nearest = *std::min_element(
      points.begin(), points.end(), [&](const Vector2d& a, const Vector2d& b) { return distance(a) < distance(b); });
  return Leader{edge(nearest), nearest};
}

}  // namespace

void draw_labels(cv::Mat3b& picture, const std::vector<DrawnSlot>& slots, LabelText text, const PictureSizes& sizes) {
  const bool alone = text == LabelText::name_alone;
  std::vector<Label> labels;
  std::vector<LabelWish> wishes;
  for (const DrawnSlot& slot : slots) {
    labels.push_back({short_name(slot.slot->id), label_text(*slot.slot)});
    Polyline2d shape = slot.all_outline_points;
    shape.insert(shape.end(), slot.along.begin(), slot.along.end());
    shape.insert(shape.end(), slot.across.begin(), slot.across.end());
    wishes.push_back({{slot.label, 2.0 * middle(slot.all_outline_points) - slot.label},
                      shape,
                      label_size(labels.back(), alone, sizes),
                      label_size(labels.back(), true, sizes)});
  }
  const std::vector<LabelPlace> places = place_labels(wishes, picture.size());
  // lines under all labels, dots above all: a label between two slots would else be anyone's
  std::vector<std::optional<Leader>> leaders;
  for (std::size_t i = 0; i < slots.size(); ++i) leaders.push_back(leader(slots[i], places[i].area));
  for (std::size_t i = 0; i < slots.size(); ++i) {
    const draw::Pen pen{draw::colour(slots[i].style->on_photo), std::max(1, sizes.line_px * 2 / 3), 1};
    if (leaders[i]) draw::polyline(picture, {leaders[i]->label, leaders[i]->slot}, draw::Ends::open, pen);
  }
  for (std::size_t i = 0; i < slots.size(); ++i)
    draw_label(picture, slots[i], labels[i], {places[i].area, alone || places[i].brief}, sizes);
  for (std::size_t i = 0; i < slots.size(); ++i) {
    if (leaders[i]) draw::dot(picture, leaders[i]->slot, 6.0 * sizes.unit, draw::colour(slots[i].style->on_photo));
  }
}

}  // namespace jigtrue
