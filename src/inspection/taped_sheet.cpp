#include "inspection/taped_sheet.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

// An ellipse of this diameter on the surface.
cv::Mat disc_of(double mm, double pitch_mm) {
  const int side = 2 * std::max(1, static_cast<int>(std::lround(0.5 * mm / pitch_mm))) + 1;
  return cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(side, side));
}

// Logarithm of the light, lines as thin as a frame's closed.
cv::Mat1f sheet_light(const Unrolled& on) {
  constexpr double kLines_mm = 0.8;  // wider than a burned line as a camera blurs it
  cv::Mat1f smooth;
  cv::GaussianBlur(on.light, smooth, cv::Size(), 0.7, 0.7);
  cv::morphologyEx(smooth, smooth, cv::MORPH_CLOSE, disc_of(kLines_mm, on.pitch_mm));
  cv::Mat1f logarithm;
  cv::log(cv::max(smooth, 1e-5), logarithm);
  return logarithm;
}

// Of one row, over the columns where the frame is expected.
std::optional<float> middle_of_row(const cv::Mat1f& light, const cv::Mat1b& seen, int row, int from, int to) {
  std::vector<float> values;
  values.reserve(static_cast<std::size_t>(std::max(0, to - from)));
  for (int column = from; column < to; ++column)
    if (seen(row, column) != 0) values.push_back(light(row, column));
  if (values.empty()) return std::nullopt;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace

Unrolled within_tape(const Unrolled& given, const Vector2d& half_mm) {
  constexpr float kStep = 0.05F;    // of a row's light to the next: a round blank's shading is less, an edge is more
  constexpr float kAlike = 0.15F;   // of the row's own light
  constexpr double kEdge_mm = 0.4;  // as far as an edge is blurred
  const cv::Mat1f light = sheet_light(given);
  const auto index = [&](double mm, int axis, int count) {
    return std::clamp(static_cast<int>(std::lround((mm - given.low_mm[axis]) / given.pitch_mm)), 0, count - 1);
  };
  const int row = index(0.0, 1, light.rows);
  const int column = index(0.0, 0, light.cols);
  const int from = index(-0.8 * half_mm.x(), 0, light.cols);
  const int to = index(0.8 * half_mm.x(), 0, light.cols);
  cv::Mat1b alike = cv::Mat1b::zeros(light.size());
  for (const int way : {1, -1}) {
    std::optional<float> before;
    for (int at = row; at >= 0 && at < light.rows; at += way) {
      const std::optional<float> here = middle_of_row(light, given.seen, at, from, to);
      if (!here || (before && std::abs(*here - *before) > kStep)) break;
      for (int c = 0; c < light.cols; ++c)
        if (given.seen(at, c) != 0 && std::abs(light(at, c) - *here) < kAlike) alike(at, c) = 255;
      before = here;
    }
  }
  cv::erode(alike, alike, disc_of(2.0 * kEdge_mm, given.pitch_mm));
  cv::Mat1i pieces;
  cv::connectedComponents(alike, pieces, 4);
  Unrolled out = given;
  out.seen = (pieces == pieces(row, column)) & alike;
  return out;
}

}  // namespace jigtrue
