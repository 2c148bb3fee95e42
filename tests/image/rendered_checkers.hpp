// Pictures of checkers at exactly known places, drawn without any of the program's own code: every pixel is the mean of
// samples of a pattern given in its own plane, then a lens's blur, light and noise.
#pragma once
#include "jigtrue/geometry/types.hpp"
#include "support/seeded_by_name.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>
#include <string>
#include <vector>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace jigtrue::test {

using Pattern = std::function<double(const Vector2d& mm)>;  // grey level at a place of the plane

// Plane to picture: a homography, then a radial bend about the picture's middle: what is seen at distance r from it
// would be seen by an ideal lens at r / (1 - bend r^2).
struct View {
  Matrix3d px_from_mm = Matrix3d::Identity();
  Vector2d middle_px = Vector2d::Zero();
  double bend = 0.0;  // 1/px^2; positive: a wide lens's barrel

  [[nodiscard]] Vector2d px(const Vector2d& mm) const {
    const Vector2d straight = (px_from_mm * mm.homogeneous()).hnormalized() - middle_px;
    // s = r / (1 - bend r^2) solved for r.
    const double s2 = straight.squaredNorm();
    const double scale = bend == 0.0 || s2 == 0.0 ? 1.0 : 2.0 / (1.0 + std::sqrt(1.0 + 4.0 * bend * s2));
    return middle_px + straight * scale;
  }
  [[nodiscard]] Vector2d mm(const Vector2d& px) const {
    const Vector2d bent = px - middle_px;
    const Vector2d straight = middle_px + bent / (1.0 - bend * bent.squaredNorm());
    return (px_from_mm.inverse() * straight.homogeneous()).hnormalized();
  }
};

struct Photograph {
  double blur_px = 1.0;
  double noise = 2.0;           // grey levels
  double light_falls_by = 0.1;  // from the left border to the right one
  // So many by so many samples of a pixel on an edge: of 16, an edge lies true to about 1/32 px in each pixel and far
  // better over a few. Fewer do where most of the picture is edges.
  int samples = 16;
};

inline cv::Mat1b render(const cv::Size& size, const View& view, const Pattern& pattern, const Photograph& how,
                        std::mt19937_64& random) {
  cv::Mat1f picture(size);
  const Matrix3d inverse = view.px_from_mm.inverse();
  // written out: this is called some hundred million times
  const auto grey = [&](double x, double y) {
    const double bent_x = x - view.middle_px.x();
    const double bent_y = y - view.middle_px.y();
    const double shrunk = 1.0 - view.bend * (bent_x * bent_x + bent_y * bent_y);
    const double straight_x = view.middle_px.x() + bent_x / shrunk;
    const double straight_y = view.middle_px.y() + bent_y / shrunk;
    const auto row = [&](int i) { return inverse(i, 0) * straight_x + inverse(i, 1) * straight_y + inverse(i, 2); };
    const double w = row(2);
    return pattern({row(0) / w, row(1) / w});
  };
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x) {
      double value = grey(x, y);
      const bool edge = value != grey(x - 0.5, y - 0.5) || value != grey(x + 0.5, y - 0.5) ||
                        value != grey(x - 0.5, y + 0.5) || value != grey(x + 0.5, y + 0.5);
      if (edge) {
        const int n = how.samples;
        value = 0.0;
        for (int i = 0; i < n; ++i)
          for (int j = 0; j < n; ++j) value += grey(x - 0.5 + (i + 0.5) / n, y - 0.5 + (j + 0.5) / n) / (n * n);
      }
      picture(y, x) = static_cast<float>(value * (1.0 - how.light_falls_by * x / size.width));
    }
  if (how.blur_px > 0.0) {
    // What the pixel's own area has blurred already (variance 1/12) is part of the blur asked for.
    const double sigma = std::sqrt(std::max(0.01, how.blur_px * how.blur_px - 1.0 / 12.0));
    cv::GaussianBlur(picture, picture, cv::Size(0, 0), sigma, sigma, cv::BORDER_REPLICATE);
  }
  cv::Mat1b photo(size);
  std::normal_distribution<double> noise(0.0, how.noise > 0.0 ? how.noise : 1.0);
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x) {
      const double value = static_cast<double>(picture(y, x)) + (how.noise > 0.0 ? noise(random) : 0.0);
      photo(y, x) = cv::saturate_cast<unsigned char>(value);
    }
  return photo;
}

// A board with its origin at (0, 0), on a white margin, on a bed.
inline Pattern board_pattern(int columns, int rows, double square, double margin, double black = 40.0,
                             double white = 200.0, double bed = 110.0) {
  return [=](const Vector2d& p) {
    const double width = columns * square;
    const double height = rows * square;
    if (p.x() < -margin || p.y() < -margin || p.x() > width + margin || p.y() > height + margin) return bed;
    if (p.x() < 0.0 || p.y() < 0.0 || p.x() >= width || p.y() >= height) return white;
    const int sum = static_cast<int>(p.x() / square) + static_cast<int>(p.y() / square);
    return sum % 2 == 0 ? black : white;
  };
}

// The mark with its centre at (0, 0), right = +x, up = +y.
inline Pattern mark_pattern(double field, double margin, double black = 40.0, double white = 200.0,
                            double bed = 110.0) {
  return [=](const Vector2d& p) {
    const double reach = std::max(std::abs(p.x()), std::abs(p.y()));
    if (reach > field + margin) return bed;
    if (reach > field) return white;
    return (p.x() < 0.0) == (p.y() < 0.0) ? black : white;
  };
}

// Thin bright walls round dark cells of 6 mm, as under a laser's work.
inline double honeycomb(const Vector2d& p) {
  double nearest = 1e9;
  double second = 1e9;
  const int row0 = static_cast<int>(std::floor(p.y() / 5.196));
  const int column0 = static_cast<int>(std::floor(p.x() / 6.0));
  for (int row = row0 - 1; row <= row0 + 2; ++row)
    for (int column = column0 - 1; column <= column0 + 2; ++column) {
      const double dx = p.x() - (column + (row % 2 != 0 ? 0.5 : 0.0)) * 6.0;
      const double dy = p.y() - row * 5.196;
      const double square = dx * dx + dy * dy;
      second = std::min(second, std::max(nearest, square));
      nearest = std::min(nearest, square);
    }
  return std::sqrt(second) - std::sqrt(nearest) < 0.8 ? 190.0 : 45.0;
}

// A plane seen by an ideal camera: its point centre_mm in the picture's middle, px_per_mm there, turned by turn_deg
// (counter-clockwise as seen) and leaning away by lean_deg towards lean_towards_deg.
struct Pose {
  Vector2d centre_mm = Vector2d::Zero();
  double px_per_mm = 2.0;
  double turn_deg = 0.0;
  double lean_deg = 0.0;
  double lean_towards_deg = 0.0;
  Vector2d shift_px = Vector2d::Zero();
  double focal_px = 0.0;  // 0: 0.9 x the picture's width; larger where the picture is a cut-out of a photo
};

inline View look_at(const cv::Size& size, const Pose& pose, double bend = 0.0) {
  const double focal = pose.focal_px > 0.0 ? pose.focal_px : 0.9 * size.width;
  const double distance = focal / pose.px_per_mm;
  const Vector3d axis(std::cos(rad_from_deg(pose.lean_towards_deg)), std::sin(rad_from_deg(pose.lean_towards_deg)),
                      0.0);
  // The plane's y runs up, the picture's down.
  const Matrix3d flip = Vector3d(1.0, -1.0, -1.0).asDiagonal();
  const Matrix3d rotation = Eigen::AngleAxisd(rad_from_deg(pose.lean_deg), axis).toRotationMatrix() * flip *
                            Eigen::AngleAxisd(rad_from_deg(pose.turn_deg), Vector3d::UnitZ()).toRotationMatrix();
  View view;
  view.middle_px = {0.5 * (size.width - 1) + 0.31, 0.5 * (size.height - 1) - 0.17};
  view.bend = bend;
  Matrix3d camera;
  camera << focal, 0.0, view.middle_px.x() + pose.shift_px.x(), 0.0, focal, view.middle_px.y() + pose.shift_px.y(), 0.0,
      0.0, 1.0;
  Matrix3d plane;
  plane.col(0) = rotation.col(0);
  plane.col(1) = rotation.col(1);
  plane.col(2) = Vector3d(0.0, 0.0, distance) - rotation.leftCols<2>() * pose.centre_mm;
  view.px_from_mm = camera * plane;
  return view;
}

}  // namespace jigtrue::test
