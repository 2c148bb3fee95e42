#include "report/draw.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include <opencv2/imgproc.hpp>

namespace jigtrue::draw {

namespace {

constexpr int kShift = 3;  // sub-pixel bits of OpenCV's drawing functions
constexpr int kFace = cv::FONT_HERSHEY_SIMPLEX;
constexpr double kCapitalHeight_px = 21.0;  // of that face at scale 1
constexpr double kFar_px = 20'000.0;

cv::Point fine(const Vector2d& point) {
  const Vector2d near = point.cwiseMax(-kFar_px).cwiseMin(kFar_px) * (1 << kShift);
  return {static_cast<int>(std::lround(near.x())), static_cast<int>(std::lround(near.y()))};
}

void stroke(cv::Mat3b& picture, const Polyline2d& points, const Colour& colour, int width_px) {
  std::vector<cv::Point> path;
  path.reserve(points.size());
  for (const Vector2d& point : points) path.push_back(fine(point));
  if (path.size() >= 2) cv::polylines(picture, path, false, colour, width_px, cv::LINE_AA, kShift);
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

double scale_of(const Font& font) { return font.height_px / kCapitalHeight_px; }

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
  const Vector2d left(-forward.y(), forward.x());
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
  int baseline = 0;
  return cv::getTextSize(ascii, kFace, scale_of(font), font.stroke_px, &baseline).width;
}

void text(cv::Mat3b& picture, const std::string& ascii, const Vector2d& lower_left, const Font& font,
          const Colour& colour) {
  const cv::Point at(static_cast<int>(std::lround(lower_left.x())), static_cast<int>(std::lround(lower_left.y())));
  cv::putText(picture, ascii, at, kFace, scale_of(font), colour, font.stroke_px, cv::LINE_AA);
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
      const Font font{side_px * 0.9, width};
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
