// Edges of a photo across an outline that is supposed in it, and how far each part of the outline is supported by them
// when one of the place's parameters changes.
#pragma once
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/detection/strip.hpp"
#include "jigtrue/image/photo.hpp"

#include <cstddef>
#include <vector>

namespace jigtrue {

// Unit-bounded edge vectors (three channels) along each sample's normal. A strong edge has length near 1, noise far
// less.
struct EdgeField {
  Strip strip;                 // geometry only
  std::vector<float> vectors;  // (row * columns + column) * 3

  [[nodiscard]] const float* at(int row, int column) const {
    return vectors.data() + (static_cast<std::ptrdiff_t>(row) * strip.columns + column) * kChannels;
  }
};

// As far as `reach_px` to either side of the samples.
[[nodiscard]] EdgeField edge_field(const Photo& photo, const std::vector<OutlineSample>& samples, double reach_px);

// Evenly spaced values about 0 that a parameter is tried at.
struct TrialValues {
  int n = 0;
  double step = 0.0;
  [[nodiscard]] double value(int i) const {
    const int middle = n / 2;
    return (i - middle) * step;
  }
};
// Up to `reach` both ways, no more than `step` apart; three of them at least.
[[nodiscard]] TrialValues trial_values(double reach, double step);

// Support of one part for every value of one parameter, the others' motion given per sample.
[[nodiscard]] std::vector<double> support_along(const EdgeField& field, const std::vector<OutlineSample>& samples,
                                                OutlinePart part, int parameter, const TrialValues& values, int other,
                                                double other_value);

// How far a part's samples move outward by one of the parameter, mean of the absolute values, px.
[[nodiscard]] double mean_abs(const std::vector<OutlineSample>& samples, OutlinePart part, int parameter);

// Neither neighbour has more.
[[nodiscard]] bool is_peak(const std::vector<double>& support, int k);

}  // namespace jigtrue
