#include "measurement/plane_pair.hpp"

#include "jigtrue/detection/search_picture.hpp"

#include <cmath>
#include <cstddef>
#include <limits>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr int kLeastSide_px = 64;  // of what both photos must show

std::array<cv::Mat1f, 3> planes_of(const Photo& photo, const cv::Rect& roi) {
  std::array<cv::Mat1f, 3> planes;
  photo.luma(roi).convertTo(planes[0], CV_32F);
  for (std::size_t k = 1; k < 3; ++k) {
    planes[k] = cv::Mat1f::zeros(roi.size());
    if (!photo.has_colour()) continue;
    const cv::Mat1b& chroma = k == 1 ? photo.cb : photo.cr;
    cv::Mat1f x(roi.size());
    cv::Mat1f y(roi.size());
    for (int r = 0; r < roi.height; ++r)
      for (int c = 0; c < roi.width; ++c) {
        const Vector2d at = photo.chroma.position(Vector2d(c + roi.x, r + roi.y));
        x(r, c) = static_cast<float>(at.x());
        y(r, c) = static_cast<float>(at.y());
      }
    cv::Mat1f plane;
    chroma.convertTo(plane, CV_32F, 1.0, -128.0);
    cv::remap(plane, planes[k], x, y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  }
  return planes;
}

cv::Rect box_about(const Polyline2d& around, double s) {
  Vector2d low = around.front();
  Vector2d high = around.front();
  for (const Vector2d& p : around) {
    low = low.cwiseMin(p);
    high = high.cwiseMax(p);
  }
  return cv::Rect(static_cast<int>(std::floor(low.x() / s)), static_cast<int>(std::floor(low.y() / s)),
                  static_cast<int>(std::ceil((high.x() - low.x()) / s)) + 1,
                  static_cast<int>(std::ceil((high.y() - low.y()) / s)) + 1);
}

}  // namespace

cv::Mat1f blurred(const cv::Mat1f& plane, double sigma_px) {
  cv::Mat1f out;
  cv::GaussianBlur(plane, out, {}, sigma_px, sigma_px, cv::BORDER_REPLICATE);
  return out;
}

std::optional<PlanePair> plane_pair(const Photo& load, const Photo& empty, const SlotRegions& regions) {
  // the jig is compared, not a blank: its slimness asks for nothing
  const int shrink = search_shrink(regions.px_per_mm, std::numeric_limits<double>::infinity());
  const SearchPicture small_load = make_search_picture(load, shrink);
  const SearchPicture small_empty = make_search_picture(empty, shrink);
  const double s = small_load.shrink;
  const cv::Rect roi =
      box_about(regions.around, s) & cv::Rect(0, 0, small_load.photo.luma.cols, small_load.photo.luma.rows);
  if (roi.width <= kLeastSide_px || roi.height <= kLeastSide_px) return std::nullopt;
  return PlanePair{planes_of(small_load.photo, roi), planes_of(small_empty.photo, roi), PictureCells{s, roi, 1},
                   regions.px_per_mm / s};
}

}  // namespace jigtrue
