// Marks that stay readable on any photo: every line has a dark casing, every text a dark plate under it.
#pragma once
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/report/standing.hpp"

#include <string>
#include <vector>

#include <opencv2/core.hpp>

namespace jigtrue::draw {

using Colour = cv::Scalar;  // BGR

inline const Colour kInk(38, 29, 20);
inline const Colour kIvory(232, 241, 244);

[[nodiscard]] Colour colour(const char* rrggbb);

struct Pen {
  Colour colour = kIvory;
  int width_px = 2;
  int casing_px = 0;        // wider than the line; 0 = no casing
  double dash_on_px = 0.0;  // 0 = solid
  double dash_off_px = 0.0;
};
enum class Ends { open, closed };
// Points in px of the picture, at sub-pixel positions; a point far outside the picture is drawn as cut off there.
void polyline(cv::Mat3b& picture, const Polyline2d& points, Ends ends, const Pen& pen);
void arrow(cv::Mat3b& picture, const Vector2d& from, const Vector2d& to, const Pen& pen);

void dot(cv::Mat3b& picture, const Vector2d& centre, double radius_px, const Colour& colour);

// Height is that of capital letters. Strong letters are drawn a little broader.
struct Font {
  double height_px = 24.0;
  bool strong = false;
};
[[nodiscard]] double text_width(const std::string& ascii, const Font& font);
void text(cv::Mat3b& picture, const std::string& ascii, const Vector2d& lower_left, const Font& font,
          const Colour& colour);

// The standing's sign within a square of the given side.
void symbol(cv::Mat3b& picture, Standing standing, const Vector2d& centre, double side_px, const Colour& colour);

// Closed shapes, one within another a hole, filled over what lies there.
void fill(cv::Mat3b& picture, const std::vector<Polyline2d>& outlines, const Colour& colour);

// Which way the bed lies: arrows along X and Y and the front edge's side, with their names, on a plate of this size.
[[nodiscard]] Vector2d compass_size(const BedDirections& directions, const Font& font);
void compass(cv::Mat3b& picture, const BedDirections& directions, const Vector2d& upper_left, const Font& font);

// Darkens a rectangle so that bright text reads on it.
void plate(cv::Mat3b& picture, const cv::Rect& area);

}  // namespace jigtrue::draw
