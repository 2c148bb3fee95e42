#include "jigtrue/base/text.hpp"
#include "jigtrue/report/inspection_pages.hpp"
#include "jigtrue/report/inspection_words.hpp"

#include <algorithm>
#include <cmath>

#include "report/draw.hpp"
#include "report/drawn_slot.hpp"
#include "report/inspection_draw.hpp"
#include "report/photo_part.hpp"
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

const char* mark_colour(const InspectedSlot& slot) {
  if (!slot.is_due) return "#b9c4cc";
  if (slot.state == MarkState::doubtful) return "#e9b2ff";
  if (slot.state == MarkState::unmarked) return "#ffa469";
  return slot.reasons.empty() ? "#74d6ff" : "#ffe14a";
}

std::string mark_label(const InspectedSlot& slot) {
  if (!slot.is_due) return "nothing due";
  if (slot.state != MarkState::marked) return to_string(slot.state);
  if (!slot.from_blank_mm) return "marked";
  return signed_text(slot.from_blank_mm->across_mm, 2);
}

// The largest of a few round factors that keeps the longest arrow in bounds.
int off_arrow_factor(const std::vector<double>& lengths_px, double most_px) {
  double longest = 0.0;
  for (const double length : lengths_px) longest = std::max(longest, length);
  int factor = 1;
  for (const int candidate : {2, 5, 10, 20, 50})
    if (candidate * longest <= most_px) factor = candidate;
  return factor;
}

cv::Mat3b with_words_below(const cv::Mat3b& picture, const std::vector<std::string>& lines, draw::Font font) {
  const double margin = 0.8 * font.height_px;
  double longest = 1.0;
  for (const std::string& line : lines) longest = std::max(longest, draw::text_width(line, font));
  font.height_px *= std::min(1.0, (picture.cols - 2.0 * margin) / longest);
  const double step = 1.7 * font.height_px;
  cv::Mat3b whole(picture.rows + static_cast<int>(std::lround(static_cast<double>(lines.size()) * step + margin)),
                  picture.cols, cv::Vec3b(38, 29, 20));
  picture.copyTo(whole.rowRange(0, picture.rows));
  double base = picture.rows;
  for (const std::string& line : lines) draw::text(whole, line, {margin, base += step}, font, draw::kIvory);
  return whole;
}

}  // namespace

std::vector<Polyline2d> mark_outlines(const std::vector<Pass>& passes, const Matrix3d& picture_from_mark) {
  constexpr double kFlat_mm = 0.03;
  std::vector<Polyline2d> lines;
  for (const Pass& pass : passes)
    for (const InkShape& shape : pass.shapes)
      for (const SubPath& path : shape.outline) {
        Polyline2d line = flattened(path, kFlat_mm);
        if (path.closed || !shape.fill.empty()) line.push_back(line.front());
        for (Vector2d& point : line) point = (picture_from_mark * Vector3d(point.x(), -point.y(), 1.0)).hnormalized();
        lines.push_back(std::move(line));
      }
  return lines;
}

cv::Mat3b inspection_picture(const InspectionResult& result, const Photo& photo) {
  constexpr double kRoom = 0.2;  // for the names
  PhotoExtent extent;
  for (const SlotResult& slot : result.blanks.slots)
    for (const Polyline2d& piece : slot.sketch.outline) extent.add(piece);
  PhotoPart part = photo_part(photo, extent, kRoom, kPictureSide_px);
  cv::Mat3b& picture = part.bgr;
  const double unit = std::max(picture.cols, picture.rows) / static_cast<double>(kPictureSide_px);
  const draw::Font font{28.0 * unit};
  const auto scaled = [&](const Vector2d& px) { return part.from_photo(px); };
  const auto scaled_line = [&](Polyline2d line) {
    for (Vector2d& point : line) point = scaled(point);
    return line;
  };
  struct Off {
    Vector2d from;
    Vector2d to;
  };
  std::vector<Off> offs;
  std::vector<double> lengths;
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    const InspectedSlot& slot = result.slots[i];
    const SlotSketch& sketch = result.blanks.slots[i].sketch;
    const draw::Pen pen{draw::colour(mark_colour(slot)), std::max(1, static_cast<int>(std::lround(2.0 * unit))), 1};
    for (const Polyline2d& piece : sketch.outline) draw::polyline(picture, scaled_line(piece), draw::Ends::open, pen);
    draw::polyline(picture, scaled_line(sketch.centreline), draw::Ends::open,
                   {pen.colour, 1, 0, 12.0 * unit, 7.0 * unit});
    const auto passes = result.art.of(slot.id);
    if (slot.state == MarkState::marked && slot.photo_from_mark && passes) {
      for (const Polyline2d& line : mark_outlines(*passes, *slot.photo_from_mark))
        draw::polyline(picture, scaled_line(line), draw::Ends::open, {pen.colour, 1, 0});
      if (sketch.photo_from_design && slot.from_blank_mm) {
        const Vector2d from = scaled((*sketch.photo_from_design * Vector3d(0.0, 0.0, 1.0)).hnormalized());
        const Vector2d to = scaled((*slot.photo_from_mark * Vector3d(0.0, 0.0, 1.0)).hnormalized());
        offs.push_back({from, to});
        lengths.push_back((to - from).norm());
      }
    }
  }
  const int factor = off_arrow_factor(lengths, 70.0 * unit);
  for (const Off& off : offs)
    draw::arrow(picture, off.from, off.from + factor * (off.to - off.from),
                {draw::kIvory, std::max(2, static_cast<int>(std::lround(3.0 * unit))), 2});
  constexpr double kBeyondAxes = 75.0;  // the arrows along and across stand at the same end
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    const InspectedSlot& slot = result.slots[i];
    const std::string words = ascii_text(slot.id) + "  " + mark_label(slot);
    const double width = draw::text_width(words, font);
    const Vector2d at = scaled(result.blanks.slots[i].sketch.label_px);
    const double left = std::clamp(at.x() - width - kBeyondAxes * unit, 4.0, std::max(4.0, picture.cols - width - 4.0));
    const double base = std::clamp(at.y(), 2.0 * font.height_px, picture.rows - 8.0);
    draw::plate(picture, cv::Rect(static_cast<int>(left) - 5, static_cast<int>(base - font.height_px) - 5,
                                  static_cast<int>(width) + 10, static_cast<int>(font.height_px) + 10) &
                             cv::Rect(0, 0, picture.cols, picture.rows));
    draw::text(picture, words, {left, base}, font, draw::colour(mark_colour(slot)));
  }
  std::vector<DrawnSlot> drawn;
  drawn.reserve(result.blanks.slots.size());
  for (const SlotResult& slot : result.blanks.slots) {
    drawn.push_back(drawn_from(slot, part.scale));
    add_axes(slot, part.scale, 42.0 * unit, drawn.back());
    move_drawn(drawn.back(), -part.origin);
    draw_axes(picture, drawn.back(), sizes_for(unit));
  }
  if (result.blanks.directions)
    draw::compass(picture, *result.blanks.directions,
                  compass_place(drawn, picture.size(), draw::compass_size(*result.blanks.directions, font)), font);
  return with_words_below(picture,
                          {ascii_text(inspection_headline(result)),
                           "Arrows on blanks: from where a mark belongs to where it is" +
                               (factor == 1 ? std::string() : ", " + std::to_string(factor) + " times life size") + ".",
                           "By the names: mm off the centreline. At the ends: long arrow along, short one across."},
                          font);
}

cv::Mat3b close_up_picture(const InspectedSlot& slot, const std::vector<Pass>* passes) {
  const MarkCloseUp& seen = slot.close_up;
  if (seen.light.empty()) return {};
  // what people look at: the drawing and a little around it
  InkBox ink;
  if (passes != nullptr) ink = ink_of(*passes);
  const Vector2d half = ink.empty() ? Vector2d(20.0, 4.0) : Vector2d(ink.low.cwiseAbs().cwiseMax(ink.high.cwiseAbs()));
  constexpr double kBeside_mm = 4.0;
  const auto index = [&](double mm, int axis, int most) {
    return std::clamp(static_cast<int>(std::lround((mm - seen.low_mm[axis]) / seen.pitch_mm)), 0, most);
  };
  const int left = index(-half.x() - kBeside_mm, 0, seen.light.cols);
  const int right = index(half.x() + kBeside_mm, 0, seen.light.cols);
  const int low = index(-half.y() - kBeside_mm, 1, seen.light.rows);
  const int high = index(half.y() + kBeside_mm, 1, seen.light.rows);
  if (right - left < 8 || high - low < 4) return {};
  const cv::Rect part(left, low, right - left, high - low);
  const cv::Mat1f light = seen.light(part);
  double brightest = 0.0;
  cv::minMaxLoc(light, nullptr, &brightest, nullptr, nullptr, seen.seen(part));
  cv::Mat1b grey(light.size());
  for (int row = 0; row < light.rows; ++row)
    for (int column = 0; column < light.cols; ++column)
      // v runs up; the square root is near enough to a screen's curve
      grey(light.rows - 1 - row, column) = cv::saturate_cast<unsigned char>(
          255.0 * std::sqrt(static_cast<double>(std::max(0.0F, light(row, column))) / std::max(brightest, 1e-6)));
  const double scale = std::clamp(1100.0 / light.cols, 1.0, 6.0);
  cv::Mat1b large;
  cv::resize(grey, large, cv::Size(), scale, scale, cv::INTER_CUBIC);
  cv::Mat3b picture;
  cv::cvtColor(large, picture, cv::COLOR_GRAY2BGR);
  const Vector2d low_mm = seen.low_mm + seen.pitch_mm * Vector2d(left, low);
  const auto at = [&](const Vector2d& uv) -> Vector2d {
    const Vector2d p = (uv - low_mm) / seen.pitch_mm;
    return {(p.x() + 0.5) * scale - 0.5, (light.rows - 1 - p.y() + 0.5) * scale - 0.5};
  };
  const draw::Colour cyan = draw::colour("#74d6ff");
  draw::polyline(picture, {at({-1e3, 0.0}), at({1e3, 0.0})}, draw::Ends::open, {cyan, 1, 1, 14.0, 8.0});
  draw::polyline(picture, {at({0.0, -3.0}), at({0.0, 3.0})}, draw::Ends::open, {cyan, 1, 1});
  if (slot.state == MarkState::marked && passes != nullptr && slot.from_blank_mm) {
    const double turn = rad_from_deg(slot.rotation_deg.value_or(0.0));
    const Vector2d centre(slot.from_blank_mm->along_mm.value_or(0.0), slot.from_blank_mm->across_mm);
    Matrix3d to_picture = Matrix3d::Identity();
    const Vector2d origin = at({0.0, 0.0});
    const double per_mm = scale / seen.pitch_mm;
    to_picture << per_mm, 0.0, origin.x(), 0.0, -per_mm, origin.y(), 0.0, 0.0, 1.0;
    Matrix3d lay = Matrix3d::Identity();
    lay << std::cos(turn), -std::sin(turn), centre.x(), std::sin(turn), std::cos(turn), centre.y(), 0.0, 0.0, 1.0;
    for (const Polyline2d& line : mark_outlines(*passes, to_picture * lay))
      draw::polyline(picture, line, draw::Ends::open, {draw::colour("#ffe14a"), 1, 0});
    constexpr double kLarger = 10.0;
    draw::arrow(picture, at({0.0, 0.0}), at(kLarger * centre), {draw::kIvory, 2, 1});
  }
  return picture;
}

}  // namespace jigtrue
