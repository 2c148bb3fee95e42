#include "calibration/model_error.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace jigtrue {

namespace {
constexpr int kColumns = 12;  // places over the picture where models are compared
constexpr int kRows = 9;      // the same, down the picture
}  // namespace

double common_structure_px(const std::vector<Residual>& residuals, int width_px, int height_px) {
  struct Sum {
    Vector2d error_px = Vector2d::Zero();
    double count = 0.0;
  };
  std::map<int, std::map<std::size_t, Sum>> fields;
  for (const Residual& r : residuals) {
    const int column = std::clamp(static_cast<int>((r.px.x() + 0.5) * kColumns / width_px), 0, kColumns - 1);
    const int row = std::clamp(static_cast<int>((r.px.y() + 0.5) * kRows / height_px), 0, kRows - 1);
    Sum& sum = fields[row * kColumns + column][r.photo];
    sum.error_px += r.error_px;
    sum.count += 1.0;
  }
  double products = 0.0;
  double pairs = 0.0;
  for (const auto& [field, photos] : fields) {
    Sum all;
    for (const auto& [photo, sum] : photos) {
      all.error_px += sum.error_px;
      all.count += sum.count;
      products -= sum.error_px.squaredNorm();
      pairs -= sum.count * sum.count;
    }
    products += all.error_px.squaredNorm();
    pairs += all.count * all.count;
  }
  return pairs > 0.0 ? std::sqrt(std::max(0.0, products / pairs)) : 0.0;
}

}  // namespace jigtrue
