#include "calibration/model_error.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {

namespace {
constexpr int kColumns = 12;
constexpr int kRows = 9;
constexpr std::size_t kFields = std::size_t{kColumns} * kRows;
}  // namespace

ResidualSplit split_residuals(const std::vector<Residual>& residuals, int width_px, int height_px) {
  struct Field {
    Vector2d sum = Vector2d::Zero();
    double squares = 0.0;
    double count = 0.0;
  };
  std::vector<Field> fields(kFields);
  for (const Residual& r : residuals) {
    const int column = std::clamp(static_cast<int>((r.px.x() + 0.5) * kColumns / width_px), 0, kColumns - 1);
    const int row = std::clamp(static_cast<int>((r.px.y() + 0.5) * kRows / height_px), 0, kRows - 1);
    Field& field = fields.at(static_cast<std::size_t>(row) * kColumns + static_cast<std::size_t>(column));
    field.sum += r.error_px;
    field.squares += r.error_px.squaredNorm();
    field.count += 1.0;
  }
  double within = 0.0;
  double freedom = 0.0;
  for (const Field& f : fields) {
    if (f.count < 2.0) continue;
    within += f.squares - f.sum.squaredNorm() / f.count;
    freedom += f.count - 1.0;
  }
  ResidualSplit split;
  if (freedom <= 0.0) return split;
  const double variance = within / freedom;  // of the distance: both axes
  split.noise_px = std::sqrt(0.5 * variance);
  double structure = 0.0;
  double total = 0.0;
  for (const Field& f : fields) {
    if (f.count < 2.0) continue;
    // mean of n: its square is too large by variance / n; weighted by n
    structure += f.sum.squaredNorm() / f.count - variance;
    total += f.count;
  }
  split.structure_px = std::sqrt(std::max(0.0, structure / total));
  return split;
}

}  // namespace jigtrue
