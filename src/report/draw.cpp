#include "report/draw.hpp"

#include "jigtrue/geometry/letters.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>

#include <opencv2/imgproc.hpp>

namespace jigtrue::draw {

namespace {

constexpr int kShift = 3;           // sub-pixel bits of OpenCV's drawing functions
constexpr int kFiner = 4;           // letters are filled this much larger, then shrunk: smooth at any size
constexpr double kStrongly = 0.05;  // of a capital's height, by which strong letters are broader all round
constexpr double kFar_px = 20'000.0;

cv::Point fine(const Vector2d& point) {
  const Vector2d near = point.cwiseMax(-kFar_px).cwiseMin(kFar_px) * (1 << kShift);
  return {static_cast<int>(std::lround(near.x())), static_cast<int>(std::lround(near.y()))};
}

void stroke(cv::Mat3b& picture, const Polyline2d& points, const Colour& colour, int width_px) {
  std::vector<cv::Point> path;
  path.reserve(points.size());
  for (const Vector2d& point : points) path.push_back(fine(point));
  if (path.size() < 2) return;
  const bool closed = path.front() == path.back();
  if (closed) path.pop_back();
  // every piece of a broad stroke is filled by itself: what the eye takes for one straight piece need not be many
  cv::approxPolyDP(path, path, 1.0, closed);
  cv::polylines(picture, path, closed, colour, width_px, cv::LINE_AA, kShift);
}

// Cuts a path into the pieces that a dashed pen leaves.
std::vector<Polyline2d> dashes(const Polyline2d& path, double on_px, double off_px) {
  std::vector<Polyline2d> pieces;
  bool pen_down = true;
  double left = on_px;
  Polyline2d piece = {path.front()};
  for (std::size_t i = 1; i < path.size(); ++i) {
    Vector2d at = path[i - 1];
    double rest = (path[i] - at).norm();
    while (rest > left) {
      at += (path[i] - at) * (left / rest);
      rest -= left;
      if (pen_down) {
        piece.push_back(at);
        pieces.push_back(piece);
      }
      piece = {at};
      pen_down = !pen_down;
      left = pen_down ? on_px : off_px;
    }
    left -= rest;
    if (pen_down) piece.push_back(path[i]);
  }
  if (pen_down && piece.size() >= 2) pieces.push_back(piece);
  return pieces;
}

// Dashing a path that runs far outside the picture would cut it into needless many pieces.
Polyline2d kept_near(const Polyline2d& points) {
  Polyline2d out;
  out.reserve(points.size() + 1);
  for (const Vector2d& point : points) out.emplace_back(point.cwiseMax(-kFar_px).cwiseMin(kFar_px));
  return out;
}

double advance_of(const Font& font, char c) {
  return (letter(c).advance / 100.0 + (font.strong ? kStrongly : 0.0)) * font.height_px;
}

// Colour where the mask says so, in shares of 255, its upper left pixel at `corner`.
void blend(cv::Mat3b& picture, const cv::Mat1b& mask, const cv::Point& corner, const Colour& colour) {
  const cv::Rect area = cv::Rect(corner, mask.size()) & cv::Rect(0, 0, picture.cols, picture.rows);
  for (int y = area.y; y < area.y + area.height; ++y) {
    for (int x = area.x; x < area.x + area.width; ++x) {
      const double share = mask(y - corner.y, x - corner.x) / 255.0;
      cv::Vec3b& pixel = picture(y, x);
      for (int c = 0; c < 3; ++c)
        pixel[c] = cv::saturate_cast<unsigned char>(pixel[c] + share * (colour[c] - pixel[c]));
    }
  }
}

}  // namespace

Colour colour(const char* rrggbb) {
  const long value = std::strtol(rrggbb + 1, nullptr, 16);
  return {static_cast<double>(value & 0xFF), static_cast<double>((value >> 8) & 0xFF),
          static_cast<double>(value >> 16)};
}

void polyline(cv::Mat3b& picture, const Polyline2d& points, Ends ends, const Pen& pen) {
  if (points.size() < 2) return;
  Polyline2d path = kept_near(points);
  if (ends == Ends::closed) path.push_back(path.front());
  if (pen.casing_px > 0) stroke(picture, path, kInk, pen.width_px + 2 * pen.casing_px);
  if (pen.dash_on_px <= 0.0) {
    stroke(picture, path, pen.colour, pen.width_px);
    return;
  }
  for (const Polyline2d& piece : dashes(path, pen.dash_on_px, pen.dash_off_px)) {
    stroke(picture, piece, pen.colour, pen.width_px);
  }
}

void arrow(cv::Mat3b& picture, const Vector2d& from, const Vector2d& to, const Pen& pen) {
  const double length = (to - from).norm();
  if (!(length > 0.0)) return;
  const Vector2d forward = (to - from) / length;
  const Vector2d left = turned_left(forward);
  const double head = std::min(0.6 * length, 4.0 * pen.width_px);
  const Vector2d base = to - head * forward;
  const Polyline2d barbs = {base + 0.65 * head * left, to, base - 0.65 * head * left};
  const int cased = pen.width_px + 2 * pen.casing_px;
  stroke(picture, {from, to}, kInk, cased);
  stroke(picture, barbs, kInk, cased);
  stroke(picture, {from, to}, pen.colour, pen.width_px);
  stroke(picture, barbs, pen.colour, pen.width_px);
}

void dot(cv::Mat3b& picture, const Vector2d& centre, double radius_px, const Colour& colour) {
  const auto fine_length = [](double px) { return static_cast<int>(std::lround(px * (1 << kShift))); };
  cv::circle(picture, fine(centre), fine_length(radius_px + 2.0), kInk, cv::FILLED, cv::LINE_AA, kShift);
  cv::circle(picture, fine(centre), fine_length(radius_px), colour, cv::FILLED, cv::LINE_AA, kShift);
}

double text_width(const std::string& ascii, const Font& font) {
  double width = 0.0;
  for (const char c : ascii) width += advance_of(font, c);
  return width;
}

void text(cv::Mat3b& picture, const std::string& ascii, const Vector2d& lower_left, const Font& font,
          const Colour& colour) {
  const int edge = static_cast<int>(std::ceil(0.2 * font.height_px)) + 1;
  const int down = static_cast<int>(std::ceil(0.35 * font.height_px)) + 1;
  const cv::Size size(static_cast<int>(std::ceil(text_width(ascii, font))) + 2 * edge,
                      static_cast<int>(std::ceil(1.2 * font.height_px)) + down);
  const cv::Point corner(static_cast<int>(std::floor(lower_left.x())) - edge,
                         static_cast<int>(std::floor(lower_left.y())) - (size.height - down));
  cv::Mat1b large(size * kFiner, 0);
  const double scale = kFiner * font.height_px / 100.0;
  double pen_x = kFiner * (lower_left.x() - corner.x);
  const double base_y = kFiner * (lower_left.y() - corner.y);
  const int broader =
      font.strong ? std::max(1, static_cast<int>(std::lround(2.0 * kStrongly * font.height_px * kFiner))) : 0;
  for (const char c : ascii) {
    std::vector<std::vector<cv::Point>> contours;
    for (const Polyline2d& contour : letter(c).contours) {
      contours.emplace_back();
      for (const Vector2d& point : contour)
        contours.back().push_back(fine({pen_x + scale * point.x(), base_y - scale * point.y()}));
    }
    if (!contours.empty()) cv::fillPoly(large, contours, 255, cv::LINE_8, kShift);
    if (broader > 0 && !contours.empty()) cv::polylines(large, contours, true, 255, broader, cv::LINE_8, kShift);
    pen_x += kFiner * advance_of(font, c);
  }
  cv::Mat1b mask;
  cv::resize(large, mask, size, 0, 0, cv::INTER_AREA);
  blend(picture, mask, corner, colour);
}

void fill(cv::Mat3b& picture, const std::vector<Polyline2d>& outlines, const Colour& colour) {
  std::vector<std::vector<cv::Point>> shapes;
  for (const Polyline2d& outline : outlines) {
    shapes.emplace_back();
    for (const Vector2d& point : outline) shapes.back().push_back(fine(point));
  }
  if (!shapes.empty()) cv::fillPoly(picture, shapes, colour, cv::LINE_AA, kShift);
}

namespace {

struct CompassArm {
  const char* name;
  Vector2d towards;
  double long_px;
  bool pointed;
};

std::array<CompassArm, 3> compass_arms(const BedDirections& directions, const Font& font) {
  const double h = font.height_px;
  return {{{"X", directions.x, 2.4 * h, true},
           {"Y", directions.y, 2.4 * h, true},
           {"front", -directions.y, 1.2 * h, false}}};
}

// The middle of an arm's name, from where the arms meet: beyond the tip by the letters' own half extent that way.
Vector2d name_middle(const CompassArm& arm, const Font& font) {
  constexpr double kBeyond = 0.5;
  const double half =
      std::abs(arm.towards.x()) * text_width(arm.name, font) / 2.0 + std::abs(arm.towards.y()) * font.height_px / 2.0;
  return (arm.long_px + kBeyond * font.height_px + half) * arm.towards;
}

struct CompassBox {
  Vector2d low = Vector2d::Zero();  // from where the arms meet
  Vector2d high = Vector2d::Zero();
};

CompassBox compass_box(const BedDirections& directions, const Font& font) {
  CompassBox box;
  for (const CompassArm& arm : compass_arms(directions, font)) {
    const Vector2d half(text_width(arm.name, font) / 2.0, font.height_px / 2.0);
    const Vector2d middle = name_middle(arm, font);
    box.low = box.low.cwiseMin(middle - half);
    box.high = box.high.cwiseMax(middle + half);
  }
  constexpr double kMargin = 0.8;
  box.low.array() -= kMargin * font.height_px;
  box.high.array() += kMargin * font.height_px;
  return box;
}

}  // namespace

Vector2d compass_size(const BedDirections& directions, const Font& font) {
  const CompassBox box = compass_box(directions, font);
  return box.high - box.low;
}

void compass(cv::Mat3b& picture, const BedDirections& directions, const Vector2d& upper_left, const Font& font) {
  const CompassBox box = compass_box(directions, font);
  const Vector2d size = box.high - box.low;
  plate(picture, cv::Rect(static_cast<int>(upper_left.x()), static_cast<int>(upper_left.y()),
                          static_cast<int>(std::ceil(size.x())), static_cast<int>(std::ceil(size.y()))));
  const Vector2d meet = upper_left - box.low;
  const Pen pen{kIvory, std::max(2, static_cast<int>(std::lround(font.height_px / 8.0))), 0};
  for (const CompassArm& arm : compass_arms(directions, font)) {
    const Vector2d tip = meet + arm.long_px * arm.towards;
    if (arm.pointed)
      arrow(picture, meet, tip, pen);
    else
      polyline(picture, {meet, tip}, Ends::open, pen);
    const Vector2d middle = meet + name_middle(arm, font);
    text(picture, arm.name, {middle.x() - text_width(arm.name, font) / 2.0, middle.y() + font.height_px / 2.0}, font,
         kIvory);
  }
}

void symbol(cv::Mat3b& picture, Standing standing, const Vector2d& centre, double side_px, const Colour& colour) {
  const double r = side_px / 2.0;
  const int width = std::max(2, static_cast<int>(std::lround(side_px / 8.0)));
  const auto at = [&](double x, double y) { return Vector2d(centre.x() + x * r, centre.y() + y * r); };
  switch (standing) {
    case Standing::ready:
      stroke(picture, {at(-0.8, 0.05), at(-0.25, 0.65), at(0.85, -0.7)}, colour, width);
      break;
    case Standing::misfit:
      stroke(picture, {at(0, -0.85), at(0, 0.25)}, colour, width + 1);
      cv::circle(picture, fine(at(0, 0.75)),
                 static_cast<int>(std::lround(0.16 * side_px / 2 * (1 << kShift))) + width * 2, colour, cv::FILLED,
                 cv::LINE_AA, kShift);
      break;
    case Standing::imprecise:
      stroke(picture, {at(-0.7, -0.25), at(0.7, -0.25)}, colour, width);
      stroke(picture, {at(0, -0.95), at(0, 0.45)}, colour, width);
      stroke(picture, {at(-0.7, 0.85), at(0.7, 0.85)}, colour, width);
      break;
    case Standing::mismatch:
      stroke(picture, {at(-0.8, -0.3), at(0.8, -0.3)}, colour, width);
      stroke(picture, {at(-0.8, 0.3), at(0.8, 0.3)}, colour, width);
      stroke(picture, {at(-0.45, 0.85), at(0.45, -0.85)}, colour, width);
      break;
    case Standing::doubtful: {
      const Font font{side_px * 0.9, true};
      text(picture, "?", {centre.x() - text_width("?", font) / 2.0, centre.y() + 0.45 * side_px}, font, colour);
      break;
    }
    case Standing::empty:
      cv::circle(picture, fine(centre), static_cast<int>(std::lround(0.75 * r * (1 << kShift))), colour, width,
                 cv::LINE_AA, kShift);
      break;
  }
}

void plate(cv::Mat3b& picture, const cv::Rect& area) {
  const cv::Rect inside = area & cv::Rect(0, 0, picture.cols, picture.rows);
  if (inside.empty()) return;
  cv::Mat3b region = picture(inside);
  constexpr double kPhotoShare = 0.18;
  region.convertTo(region, -1, kPhotoShare);
  cv::add(region, kInk * (1.0 - kPhotoShare), region);
}

}  // namespace jigtrue::draw
