#include "jigtrue/image/photo_treatment.hpp"

#include "jigtrue/image/sharpest_blur.hpp"

#include <cstddef>
#include <cstdlib>

namespace jigtrue {
namespace {

bool is_neutral(const cv::Mat1b& plane) {
  constexpr std::size_t kOneIn = 1000;  // stray pixels of compression
  std::size_t coloured = 0;
  for (int y = 0; y < plane.rows; ++y)
    for (int x = 0; x < plane.cols; ++x) coloured += std::abs(plane(y, x) - 128) > 1 ? 1U : 0U;
  return coloured * kOneIn <= static_cast<std::size_t>(plane.rows) * static_cast<std::size_t>(plane.cols);
}

}  // namespace

PhotoTreatment photo_treatment(const Photo& photo) {
  PhotoTreatment treatment;
  treatment.grey = !photo.has_colour() || (is_neutral(photo.cb) && is_neutral(photo.cr));
  treatment.blur_px = sharpest_blur_px(photo.luma, {cv::Rect(0, 0, photo.luma.cols, photo.luma.rows)}).value_or(0.0);
  return treatment;
}

}  // namespace jigtrue
