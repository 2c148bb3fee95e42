// A step from -1 to 1 blurred by a normal distribution, and its slope. Internal; in a header, for a photo asks it some
// million times.
#pragma once
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace jigtrue::checker {

struct Step {
  double value = 0.0;  // erf
  double slope = 0.0;  // its derivative by distance
};

// erf(x / sqrt 2) by cubics between its values and slopes at steps of 1/64, true to 2e-10.
class StepTable {
 public:
  static constexpr double kReach = 5.0;  // beyond it 1 to 6e-7, far below a grey level
  StepTable() {
    for (std::size_t i = 0; i < pieces_.size(); ++i) {
      const Step a = node(i);
      const Step b = node(i + 1);
      const double rise = b.value - a.value;
      pieces_[i] = {a.value, a.slope, 3.0 * rise - 2.0 * a.slope - b.slope, a.slope + b.slope - 2.0 * rise};
    }
  }
  // x within 0 and kReach; the slope by x.
  [[nodiscard]] Step operator()(double x) const {
    const double at = x * kPerUnit;
    const auto i = static_cast<std::size_t>(at);
    const double t = at - static_cast<double>(i);
    const auto& [value, slope, c, d] = pieces_[i];
    return {value + t * (slope + t * (c + t * d)), kPerUnit * (slope + t * (2.0 * c + 3.0 * t * d))};
  }

 private:
  static constexpr double kPerUnit = 64.0;                  // of the table: interpolated linearly
  static constexpr double kSlope = 0.79788456080286535588;  // sqrt(2 / pi)
  // slope: by steps
  static Step node(std::size_t i) {
    const double x = static_cast<double>(i) / kPerUnit;
    return {std::erf(x * std::numbers::sqrt2 / 2.0), kSlope / kPerUnit * std::exp(-0.5 * x * x)};
  }
  std::array<std::array<double, 4>, static_cast<std::size_t>(kReach* kPerUnit) + 1> pieces_{};
};

inline const StepTable& step_table() {
  static const StepTable table;
  return table;
}

// By the distance in blurs.
inline Step blurred_step(const StepTable& table, double blurs) {
  if (!(std::abs(blurs) < StepTable::kReach)) return {blurs > 0.0 ? 1.0 : -1.0, 0.0};
  const Step step = table(std::abs(blurs));
  return {blurs < 0.0 ? -step.value : step.value, step.slope};
}

}  // namespace jigtrue::checker
