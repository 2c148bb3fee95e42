// Every mark of a photo whose place, size and turn nobody knows beforehand.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

struct SightedMark {
  Vector2d px = Vector2d::Zero();
  double sigma_px = 0.0;  // one axis
  // Columns: one field to the mark's right, one field up, as seen in the picture, to about a tenth of their length. The
  // mark looks the same turned by half a turn: both columns may be negated.
  Matrix2d px_from_field = Matrix2d::Identity();
};

// Checker corners are looked for on shrunk copies of the photo; how far their edges reach gives the fields' size, and
// find_mark then has the last word. Fields from smallest_field_px upwards: the copies are shrunk accordingly, and a
// smaller one costs four times the time per halving. Strongest first; at most max_count.
[[nodiscard]] std::vector<SightedMark> find_all_marks(const cv::Mat1b& luma, double smallest_field_px,
                                                      std::size_t max_count = 60);

}  // namespace jigtrue
