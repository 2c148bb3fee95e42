#include "detection/support_peaks.hpp"

#include <algorithm>
#include <cstddef>

namespace jigtrue {

std::vector<Peak> peaks_of(const cv::Mat1f& support, const std::vector<cv::Point>& worth) {
  constexpr std::size_t kMost = 400;  // of one direction: more than a bed full of blanks has, and clutter beside them
  constexpr int kNearRows = 2;        // cells within which two peaks are one: an edge's own width
  constexpr int kNearColumns = 4;     // the same along the blank, where ends tell it less well
  std::vector<Peak> peaks;
  for (const cv::Point& at : worth) {
    const float here = support(at);
    bool greatest = true;
    for (int y = std::max(at.y - kNearRows, 0); greatest && y <= std::min(at.y + kNearRows, support.rows - 1); ++y) {
      const float* row = support.ptr<float>(y);
      for (int x = std::max(at.x - kNearColumns, 0); x <= std::min(at.x + kNearColumns, support.cols - 1); ++x)
        greatest = greatest && (row[x] < here || (row[x] == here && !(y < at.y || (y == at.y && x < at.x))));
    }
    if (greatest) peaks.push_back({static_cast<double>(here), static_cast<double>(at.x), static_cast<double>(at.y)});
  }
  std::stable_sort(peaks.begin(), peaks.end(), [](const Peak& a, const Peak& b) { return a.support > b.support; });
  if (peaks.size() > kMost) peaks.resize(kMost);
  return peaks;
}

}  // namespace jigtrue
