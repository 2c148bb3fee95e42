#include "jigtrue/report/move_picture.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/image/write_picture.hpp"

#include <algorithm>
#include <cmath>

#include "report/draw.hpp"

namespace jigtrue {
namespace {

constexpr int kSide_px = 1600;

Polyline2d ring(const Vector2d& centre, double radius) {
  Polyline2d points;
  for (int i = 0; i < 48; ++i) {
    const double angle = 2.0 * kPi * i / 48.0;
    points.emplace_back(centre + radius * Vector2d(std::cos(angle), std::sin(angle)));
  }
  return points;
}

// Under the ring, or over it where the picture ends.
void label(cv::Mat3b& picture, const std::string& words, const Vector2d& centre, double clear_px,
           const draw::Font& font) {
  constexpr int kPad = 6;
  const double width = draw::text_width(words, font);
  const double left = std::clamp(centre.x() - 0.5 * width, 6.0, std::max(6.0, picture.cols - width - 6.0));
  const double under = centre.y() + clear_px + font.height_px;
  const double base = under < picture.rows - 2.0 * kPad ? under : centre.y() - clear_px;
  const cv::Rect whole(0, 0, picture.cols, picture.rows);
  const cv::Rect place(static_cast<int>(left) - kPad, static_cast<int>(base - font.height_px) - kPad,
                       static_cast<int>(width) + 2 * kPad, static_cast<int>(font.height_px) + 2 * kPad);
  draw::plate(picture, place & whole);
  draw::text(picture, words, {left, base}, font, draw::kIvory);
}

}  // namespace

std::string move_picture(const Photo& photo, const std::vector<MarkMove>& moves) {
  ShrunkPicture shrunk = shrink(photo, kSide_px);
  cv::Mat3b& picture = shrunk.bgr;
  const double unit = std::max(picture.cols, picture.rows) / static_cast<double>(kSide_px);
  const auto placed = [&](const Vector2d& px) { return Vector2d((px.array() + 0.5) * shrunk.scale - 0.5); };
  const double radius = 34.0 * unit;
  const draw::Font font{20.0 * unit, std::max(1, static_cast<int>(std::lround(2.0 * unit)))};
  draw::Pen pen;
  pen.colour = draw::colour("#ffe14a");
  pen.width_px = std::max(2, static_cast<int>(std::lround(3.0 * unit)));
  pen.casing_px = pen.width_px + 4;
  for (const MarkMove& move : moves) {
    const Vector2d expected = placed(move.expected_px);
    draw::polyline(picture, ring(expected, radius), draw::Ends::closed, pen);
    if (!move.found_px) {
      label(picture, "expected here, not found", expected, radius + 8.0 * unit, font);
      continue;
    }
    const Vector2d found = placed(*move.found_px);
    draw::dot(picture, found, 6.0 * unit, draw::colour("#ffa469"));
    if ((found - expected).norm() > 12.0 * unit) draw::arrow(picture, expected, found, pen);
    label(picture, "found " + fixed_text((*move.found_px - move.expected_px).norm(), 1) + " px from here", expected,
          radius + 8.0 * unit, font);
  }
  return encode_jpeg(picture);
}

}  // namespace jigtrue
