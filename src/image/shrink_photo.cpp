#include "jigtrue/image/shrink_photo.hpp"

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

cv::Mat1b averaged(const cv::Mat1b& plane, double factor) {
  if (factor <= 1.0) return plane;
  cv::Mat1b small;
  cv::resize(plane, small, cv::Size(), 1.0 / factor, 1.0 / factor, cv::INTER_AREA);
  // without a last row or column of which the plane holds a part only
  return small(cv::Rect(0, 0, static_cast<int>(plane.cols / factor), static_cast<int>(plane.rows / factor)));
}

}  // namespace

Photo shrunk(const Photo& photo, double factor) {
  Photo small = photo;
  if (factor <= 1.0) return small;
  small.luma = averaged(photo.luma, factor);
  if (photo.has_colour()) {
    const double of_chroma = std::max(1.0, factor / photo.chroma.pixels.maxCoeff());
    small.cb = averaged(photo.cb, of_chroma);
    small.cr = averaged(photo.cr, of_chroma);
    small.chroma.pixels *= of_chroma / factor;
    small.chroma.lead_px /= factor;
  }
  return small;
}

}  // namespace jigtrue
