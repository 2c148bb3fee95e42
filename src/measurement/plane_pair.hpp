// The photos of a load and of its empty jig, shrunk to what registration needs, where the slots and their surroundings
// lie.
#pragma once
#include "jigtrue/image/photo.hpp"

#include <array>
#include <optional>

#include "measurement/slot_regions.hpp"
#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Luma, blue and red chroma in grey levels (chroma less 128; 0 where a photo has none), of one size.
using Planes = std::array<cv::Mat1f, 3>;

struct PlanePair {
  Planes load;
  Planes empty;
  PictureCells pixels;  // of either: cells of one px
  double px_per_mm = 0.0;
  [[nodiscard]] const cv::Rect& roi() const { return pixels.roi; }
  [[nodiscard]] cv::Size size() const { return pixels.roi.size(); }
};
// Nothing where too little of the surroundings lies in the picture.
[[nodiscard]] std::optional<PlanePair> plane_pair(const Photo& load, const Photo& empty, const SlotRegions& regions);

[[nodiscard]] cv::Mat1f blurred(const cv::Mat1f& plane, double sigma_px);

[[nodiscard]] inline double value_at(const cv::Mat1f& plane, int row, int column) {
  return static_cast<double>(plane(row, column));
}

}  // namespace jigtrue
