// Where a picture of support has its peaks.
#pragma once
#include <vector>

#include <opencv2/core.hpp>

namespace jigtrue {

struct Peak {
  double support = 0.0;
  double column = 0.0;
  double row = 0.0;
};

// Cells that no cell near them exceeds, most support first; 400 at most. `worth`: the cells to look at.
[[nodiscard]] std::vector<Peak> peaks_of(const cv::Mat1f& support, const std::vector<cv::Point>& worth);

// Support of the sides, from which on a place is worth judging: with less no outline is ever measured closely.
inline constexpr double kWorthJudging = 0.2;

}  // namespace jigtrue
