#include "jigtrue/detection/edge_picture.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace jigtrue {

EdgePicture edges_of(const BedView& view) {
  constexpr double kSmooth = 0.8;  // of the derivative, cells
  EdgePicture edges;
  cv::Mat3f smooth;
  cv::GaussianBlur(view.picture, smooth, {}, kSmooth);
  const cv::Matx13f slope(-0.5F, 0.0F, 0.5F);
  cv::filter2D(smooth, edges.along_x, CV_32F, slope);
  cv::filter2D(smooth, edges.along_y, CV_32F, slope.t());
  cv::Mat1b inner;
  cv::erode(view.seen, inner, cv::getStructuringElement(cv::MORPH_RECT, {9, 9}), {-1, -1}, 1, cv::BORDER_CONSTANT, 0);
  cv::Mat1f length(smooth.size());
  for (int y = 0; y < length.rows; ++y)
    for (int x = 0; x < length.cols; ++x) {
      const cv::Vec3f& gx = edges.along_x(y, x);
      const cv::Vec3f& gy = edges.along_y(y, x);
      length(y, x) = inner(y, x) != 0 ? std::sqrt(gx.dot(gx) + gy.dot(gy)) : 0.0F;
    }
  // Saturates well above the ordinary texture around, never below the noise of an 8-bit picture.
  constexpr double kAround_mm = 40.0;
  const int around = 2 * static_cast<int>(0.5 * kAround_mm / view.mm_per_cell) + 1;
  cv::Mat1f usual;
  cv::boxFilter(length, usual, CV_32F, {around, around});
  for (int y = 0; y < length.rows; ++y)
    for (int x = 0; x < length.cols; ++x) {
      const float floor = std::max(1.5F * usual(y, x), 1.0F);
      const float scale = inner(y, x) != 0 ? 1.0F / std::sqrt(length(y, x) * length(y, x) + floor * floor) : 0.0F;
      edges.along_x(y, x) *= scale;
      edges.along_y(y, x) *= scale;
    }
  return edges;
}

}  // namespace jigtrue
