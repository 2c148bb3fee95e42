#include "jigtrue/image/shrink_photo.hpp"

#include <algorithm>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

cv::Mat1b averaged(const cv::Mat1b& plane, int width, int height) {
  if (plane.cols <= width) return plane;
  const int factor = plane.cols / width;
  cv::Mat1b small;
  cv::resize(plane(cv::Rect(0, 0, width * factor, height * factor)), small, cv::Size(width, height), 0, 0,
             cv::INTER_AREA);
  return small;
}

}  // namespace

Photo shrunk(const Photo& photo, int factor) {
  Photo small = photo;
  if (factor <= 1) return small;
  const int width = photo.width_px() / factor;
  const int height = photo.height_px() / factor;
  small.luma = averaged(photo.luma, width, height);
  if (photo.has_colour()) {
    small.cb = averaged(photo.cb, std::min(photo.cb.cols, width), std::min(photo.cb.rows, height));
    small.cr = averaged(photo.cr, std::min(photo.cr.cols, width), std::min(photo.cr.rows, height));
    const int chroma_factor = photo.cb.cols / small.cb.cols;
    small.chroma.pixels *= static_cast<double>(chroma_factor) / factor;
    small.chroma.lead_px /= factor;
  }
  return small;
}

}  // namespace jigtrue
