#include "measurement/slot_row.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/median.hpp"
#include "jigtrue/base/series.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// The straight line through a row's places by least squares.
struct RowFit {
  double middle_mm = 0.0;  // of the row
  double level_mm = 0.0;   // across, there
  double slope = 0.0;      // mm across for 1 mm along the row
  double squares_mm2 = 0.0;
  double scatter_mm = 0.0;
};

// Nothing of places that lie abreast of each other.
std::optional<RowFit> fitted(const std::vector<RowPlace>& row) {
  const auto n = static_cast<double>(row.size());
  RowFit fit;
  for (const RowPlace& place : row) {
    fit.middle_mm += place.at_mm / n;
    fit.level_mm += place.across_mm / n;
  }
  double products = 0.0;
  for (const RowPlace& place : row) {
    const double d = place.at_mm - fit.middle_mm;
    fit.squares_mm2 += d * d;
    products += d * (place.across_mm - fit.level_mm);
  }
  if (fit.squares_mm2 < 1.0) return std::nullopt;
  fit.slope = products / fit.squares_mm2;
  double left = 0.0;
  for (const RowPlace& place : row) {
    const double r = place.across_mm - fit.level_mm - fit.slope * (place.at_mm - fit.middle_mm);
    left += r * r;
  }
  fit.scatter_mm = std::sqrt(left / (n - 2.0));
  return fit;
}

}  // namespace

Vector2d along_of(const Slot& slot) {
  const double a = rad_from_deg(slot.axis_deg);
  return {std::cos(a), std::sin(a)};
}

std::vector<RowPlace> row_places(const Fixture& fixture, const std::vector<SlotResult>& slots) {
  std::vector<RowPlace> row;
  const Vector2d along = along_of(fixture.slots.front());
  const Vector2d across(-along.y(), along.x());
  for (std::size_t i = 0; i < slots.size(); ++i) {
    constexpr double kParallel = 0.999;  // cosine: 2.6 degrees
    if (slots[i].state != SlotState::found || !tells_of_load(slots[i]) ||
        std::abs(along_of(fixture.slots[i]).dot(along)) < kParallel)
      continue;
    row.push_back({i, fixture.slots[i].centre_mm.dot(across), slots[i].numbers->offset_mm.dot(across),
                   slots[i].numbers->uncertainty.across_mm / kCoverageFactor95});
  }
  std::sort(row.begin(), row.end(), [](const RowPlace& a, const RowPlace& b) { return a.at_mm < b.at_mm; });
  return row;
}

std::optional<RowTrend> trend_of(const std::vector<RowPlace>& row) {
  // a row of few places may lie straighter by chance than blanks lie in slots
  constexpr double kLeastScatter_mm = 0.03;
  if (row.size() < 4) return std::nullopt;
  const auto fit = fitted(row);
  if (!fit) return std::nullopt;
  RowTrend trend{fit->slope, std::max(fit->scatter_mm, kLeastScatter_mm) / std::sqrt(fit->squares_mm2), 0.0};
  for (const RowPlace& place : row) trend.reach_mm = std::max(trend.reach_mm, std::abs(place.at_mm - fit->middle_mm));
  return trend;
}

RowLine line_of(const std::vector<RowPlace>& row) {
  std::vector<double> slopes;
  for (std::size_t i = 0; i < row.size(); ++i)
    for (std::size_t j = i + 1; j < row.size(); ++j)
      if (std::abs(row[j].at_mm - row[i].at_mm) > 1.0)
        slopes.push_back((row[j].across_mm - row[i].across_mm) / (row[j].at_mm - row[i].at_mm));
  RowLine line;
  line.slope = median(slopes).value_or(0.0);
  std::vector<double> levels;
  levels.reserve(row.size());
  for (const RowPlace& place : row) levels.push_back(place.across_mm - line.slope * place.at_mm);
  line.level_mm = median(levels).value_or(0.0);
  return line;
}

std::optional<Predicted> predicted_by(const std::vector<RowPlace>& others, double at_mm, double least_scatter_mm) {
  const auto fit = fitted(others);
  if (!fit) return std::nullopt;
  const auto n = static_cast<double>(others.size());
  const double from_middle_mm = at_mm - fit->middle_mm;
  const double few = students_t(n - 2.0) / kCoverageFactor95;
  return Predicted{fit->level_mm + fit->slope * from_middle_mm,
                   few * std::max(fit->scatter_mm, least_scatter_mm) *
                       std::sqrt(1.0 + 1.0 / n + from_middle_mm * from_middle_mm / fit->squares_mm2)};
}

}  // namespace jigtrue
