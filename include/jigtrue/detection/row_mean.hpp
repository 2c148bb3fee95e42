// The mean of neighbouring rows of a strip: one profile across a stretch of an outline.
#pragma once
#include "jigtrue/detection/strip.hpp"

#include <array>
#include <vector>

namespace jigtrue {

struct MeanProfile {
  std::array<std::vector<double>, kChannels> values;
  std::array<double, kChannels> noise{};  // of one value of the mean, from the scatter of the rows; see RowMean
};

// Mean of rows [from, to) of a strip, column by column, trimmed of rows that differ (a clip, a speck).
class RowMean {
 public:
  RowMean(const Strip& strip, int from, int to);
  // Throws std::logic_error beyond the strip.
  [[nodiscard]] MeanProfile window(int first_column, int columns) const;

 private:
  int kept_ = 0;  // rows that were not trimmed
  std::array<Eigen::ArrayXd, kChannels> means_;
  std::array<Eigen::ArrayXd, kChannels> scatters_;  // robust, of the rows about the mean
};

}  // namespace jigtrue
