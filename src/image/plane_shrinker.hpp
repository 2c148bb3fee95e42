// Area averaging at any ratio.
#pragma once
#include <cstdint>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Sample (x, y) of the shrunk plane is the mean of the plane over [x, x + 1) * step_x by [y, y + 1) * step_y, counted
// in pixels from the plane's outer corner; what lies outside of the plane takes the nearest edge pixel. Within 1 grey
// level of exact.
class PlaneShrinker {
 public:
  PlaneShrinker(cv::Mat1b plane, int width_px, double step_x, double step_y);

  // These rows of the shrunk plane.
  [[nodiscard]] cv::Mat1b rows(const cv::Range& range) const;

  // The pixels that one sample covers and their weights, whole numbers.
  struct Taps {
    int first = 0;
    std::vector<std::uint16_t> weights;
  };

 private:
  cv::Mat1b plane_;
  double step_y_;
  std::vector<Taps> columns_;
};

}  // namespace jigtrue
