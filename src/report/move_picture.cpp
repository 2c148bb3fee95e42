#include "jigtrue/report/move_picture.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/image/write_picture.hpp"

#include <algorithm>
#include <cmath>

#include "report/draw.hpp"
#include "report/photo_part.hpp"

namespace jigtrue {
namespace {

Polyline2d ring(const Vector2d& centre, double radius) {
  Polyline2d points;
  for (int i = 0; i < 48; ++i) {
    const double angle = 2.0 * kPi * i / 48.0;
    points.emplace_back(centre + radius * unit_vector(angle));
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

// The largest of a few round factors that keeps the longest arrow in bounds.
int move_arrow_factor(const std::vector<MarkMove>& moves, double scale, double unit) {
  double longest = 0.0;
  for (const MarkMove& move : moves)
    if (move.found_px) longest = std::max(longest, scale * (*move.found_px - move.expected_px).norm());
  int factor = 1;
  for (const int candidate : {2, 5, 10, 20, 50, 100})
    if (candidate * longest <= 120.0 * unit) factor = candidate;
  return factor;
}

}  // namespace

std::string move_picture(const Photo& photo, const std::vector<MarkMove>& moves,
                         const std::optional<BedDirections>& directions) {
  ShrunkPicture shrunk = shrink(photo, kPictureSide_px);
  const double unit = std::max(shrunk.bgr.cols, shrunk.bgr.rows) / static_cast<double>(kPictureSide_px);
  const draw::Font font{20.0 * unit};
  const int strip = static_cast<int>(std::lround(76.0 * unit));
  cv::Mat3b whole(shrunk.bgr.rows + strip, shrunk.bgr.cols, cv::Vec3b(38, 29, 20));
  cv::Mat3b picture = whole.rowRange(0, shrunk.bgr.rows);
  shrunk.bgr.copyTo(picture);
  const auto placed = [&](const Vector2d& px) { return Vector2d((px.array() + 0.5) * shrunk.scale - 0.5); };
  const double radius = 26.0 * unit;
  draw::Pen pen;
  pen.colour = draw::colour("#ffe14a");
  pen.width_px = std::max(2, static_cast<int>(std::lround(3.0 * unit)));
  pen.casing_px = std::max(1, pen.width_px / 2);
  const int factor = move_arrow_factor(moves, shrunk.scale, unit);
  for (const MarkMove& move : moves) {
    const Vector2d expected = placed(move.expected_px);
    draw::polyline(picture, ring(expected, radius), draw::Ends::closed, pen);
    if (!move.found_px) {
      label(picture, "expected here, not found", expected, radius + 8.0 * unit, font);
      continue;
    }
    const Vector2d way = placed(*move.found_px) - expected;
    draw::arrow(picture, expected, expected + factor * way, pen);
    const double clear_px = std::max(radius, factor * std::abs(way.y()) + 4.0 * unit);
    label(picture,
          fixed_text(move.moved_mm, 2) + " mm (" + fixed_text((*move.found_px - move.expected_px).norm(), 1) + " px)",
          expected, clear_px + 8.0 * unit, font);
  }
  if (directions) {
    const Vector2d size = draw::compass_size(*directions, font);
    draw::compass(picture, *directions, {(picture.cols - size.x()) / 2.0, picture.rows - size.y()}, font);
  }
  const std::string life = factor == 1 ? "in life size" : std::to_string(factor) + " times life size";
  const double left = 16.0 * unit;
  draw::text(whole, "The camera has moved: rings show where each mark of the bed was expected.",
             {left, picture.rows + 30.0 * unit}, font, draw::kIvory);
  draw::text(whole, "Arrows point to where it is now, " + life + "; beside them how far that is on the bed.",
             {left, picture.rows + 62.0 * unit}, font, draw::kIvory);
  return encode_jpeg(whole);
}

}  // namespace jigtrue
