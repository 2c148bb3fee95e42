#include "jigtrue/measurement/regular_grid.hpp"

#include "jigtrue/base/series.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

namespace jigtrue {
namespace {

constexpr double kParallel_deg = 6.0;
constexpr double kByChance = 0.05;
constexpr double kInLine_mm = 5.0;  // blanks in one line slide in their slots by no more, 1 sigma

bool are_discs(const std::vector<Slot>& slots) { return std::holds_alternative<DiscBlank>(slots.front().blank.shape); }

// Mean direction of lines that repeat `fold` times a turn, and the length of their mean vector.
std::pair<double, double> mean_direction(const std::vector<double>& angles_rad, double fold) {
  double c = 0.0;
  double s = 0.0;
  for (const double angle : angles_rad) {
    c += std::cos(fold * angle);
    s += std::sin(fold * angle);
  }
  return {std::atan2(s, c) / fold, std::hypot(c, s) / static_cast<double>(std::max<std::size_t>(angles_rad.size(), 1))};
}

// Discs have no axis: what leads from each to its nearest neighbour shows how their grid lies.
double grid_heading(const std::vector<Slot>& slots) {
  std::vector<double> angles;
  for (const Slot& slot : slots) {
    Vector2d nearest = Vector2d::Constant(1e9);
    for (const Slot& other : slots) {
      const Vector2d away = other.centre_mm - slot.centre_mm;
      if (&other != &slot && away.norm() < nearest.norm()) nearest = away;
    }
    angles.push_back(std::atan2(nearest.y(), nearest.x()));
  }
  return mean_direction(angles, 4.0).first;
}

// Those parallel to most; the common direction is the median's.
std::vector<std::size_t> parallel_ones(const std::vector<Slot>& slots) {
  std::vector<std::size_t> best;
  for (const Slot& middle : slots) {
    std::vector<std::size_t> group;
    for (std::size_t i = 0; i < slots.size(); ++i)
      if (std::abs(std::remainder(slots[i].axis_deg - middle.axis_deg, 180.0)) <= kParallel_deg) group.push_back(i);
    if (group.size() > best.size()) best = group;
  }
  return best;
}

// Whole steps between values that are spaced evenly but for gaps and chance; `apart`: closer ones are of one step.
struct Steps {
  std::vector<int> index;
  double pitch = 0.0;
};
std::optional<Steps> even_steps(const std::vector<double>& values, double apart) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
  // one value for each step
  std::vector<double> means;
  std::vector<std::size_t> group_of(values.size());
  std::size_t count = 0;
  for (std::size_t k = 0; k < order.size(); ++k) {
    const double value = values[order[k]];
    if (k == 0 || value - means.back() > apart) {
      means.push_back(value);
      count = 1;
    } else {
      ++count;
      means.back() += (value - means.back()) / static_cast<double>(count);
    }
    group_of[order[k]] = means.size() - 1;
  }
  Steps steps;
  steps.index.assign(values.size(), 0);
  if (means.size() == 1) return steps;
  double best = std::numeric_limits<double>::infinity();
  std::vector<int> best_index;
  for (std::size_t k = 1; k < means.size(); ++k) {
    double pitch = means[k] - means[k - 1];
    std::vector<int> index(means.size(), 0);
    // twice: the first pitch comes from two blanks only
    for (int round = 0; round < 2; ++round) {
      for (std::size_t i = 1; i < means.size(); ++i)
        index[i] = index[i - 1] + std::max(1, static_cast<int>(std::lround((means[i] - means[i - 1]) / pitch)));
      double kk = 0.0;
      double kv = 0.0;
      const double n = static_cast<double>(means.size());
      const double mean_k = std::accumulate(index.begin(), index.end(), 0.0) / n;
      const double mean_v = std::accumulate(means.begin(), means.end(), 0.0) / n;
      for (std::size_t i = 0; i < means.size(); ++i) {
        kk += (index[i] - mean_k) * (index[i] - mean_k);
        kv += (index[i] - mean_k) * (means[i] - mean_v);
      }
      pitch = kv / kk;
    }
    double largest = 0.0;
    for (std::size_t i = 1; i < means.size(); ++i)
      largest = std::max(largest, std::abs((means[i] - means[i - 1]) / pitch - (index[i] - index[i - 1])));
    // of equally even ones the widest pitch: half of it would fit as well
    const double score = largest + 0.02 * index.back();
    if (score < best) {
      best = score;
      steps.pitch = pitch;
      best_index = index;
    }
  }
  for (std::size_t i = 0; i < values.size(); ++i) steps.index[i] = best_index[group_of[i]];
  return steps;
}

int steps_of(const Steps& steps) { return 1 + *std::max_element(steps.index.begin(), steps.index.end()); }

// value = first + row * by_row + column * by_column
struct Regression {
  VectorXd solution;
  MatrixXd cofactors;
  double sigma = 0.0;
  double largest = 0.0;  // residual
  int freedom = 0;
  [[nodiscard]] double u(int parameter) const {
    return students_t(freedom) * sigma * std::sqrt(cofactors(parameter, parameter));
  }
  [[nodiscard]] double u_at(const VectorXd& row) const {
    return students_t(freedom) * sigma * std::sqrt((row.transpose() * cofactors * row)(0));
  }
};
std::optional<Regression> regress(const MatrixXd& design, const VectorXd& values) {
  Regression result;
  result.freedom = static_cast<int>(design.rows() - design.cols());
  if (result.freedom < 1) return std::nullopt;
  result.cofactors = (design.transpose() * design).inverse();
  result.solution = result.cofactors * (design.transpose() * values);
  const VectorXd residuals = values - design * result.solution;
  result.sigma = std::sqrt(residuals.squaredNorm() / result.freedom);
  result.largest = residuals.cwiseAbs().maxCoeff();
  return result;
}

// Places whose remainders by the pitch were anywhere: the chance that all but those which fix pitch and start lie so
// near to whole steps.
bool more_even_than_chance(const Regression& fit, double pitch) {
  const double share = std::min(2.0 * fit.largest / pitch, 1.0);
  return std::pow(share, fit.freedom) < kByChance;
}

}  // namespace

std::optional<RegularGrid> regular_grid(const std::vector<Slot>& slots) {
  if (slots.size() < 3) return std::nullopt;
  RegularGrid grid;
  const bool discs = are_discs(slots);
  std::vector<std::size_t> members(slots.size());
  std::iota(members.begin(), members.end(), std::size_t{0});
  double heading = 0.0;
  const std::size_t all = slots.size();
  if (discs) {
    heading = grid_heading(slots);
  } else {
    members = parallel_ones(slots);
    if (members.size() < 3 || 2 * members.size() < all) return std::nullopt;
    std::vector<double> axes;
    for (const std::size_t i : members) axes.push_back(rad_from_deg(slots[i].axis_deg));
    heading = mean_direction(axes, 2.0).first;
    double squares = 0.0;
    for (const double axis : axes) squares += std::pow(std::remainder(axis - heading, kPi), 2);
    const auto freedom = static_cast<int>(axes.size()) - 1;
    grid.axis_deg = deg_from_rad(heading);
    grid.scatter_turn_deg = deg_from_rad(std::sqrt(squares / freedom));
    grid.u_axis_deg = students_t(freedom) * grid.scatter_turn_deg / std::sqrt(static_cast<double>(axes.size()));
  }
  const Vector2d along = unit_vector(heading);
  const Vector2d across = turned_left(along);
  const double girth = largest_girth_mm(slots.front().blank.shape);
  const double length = discs ? girth : length_mm(slots.front().blank.shape);
  std::vector<double> v;
  std::vector<double> u;
  for (const std::size_t i : members) {
    v.push_back(slots[i].centre_mm.dot(across));
    u.push_back(slots[i].centre_mm.dot(along));
  }
  const auto rows = even_steps(v, 0.5 * girth);
  const auto columns = even_steps(u, 0.5 * length);
  if (!rows || !columns) return std::nullopt;
  const bool many_rows = rows->pitch > 0.0;
  const bool many_columns = columns->pitch > 0.0;
  const auto n = static_cast<Eigen::Index>(members.size());
  MatrixXd design = MatrixXd::Ones(n, 1 + int{many_rows} + int{many_columns});
  VectorXd of_v(n);
  VectorXd of_u(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    if (many_rows) design(i, 1) = rows->index[k];
    if (many_columns) design(i, 1 + int{many_rows}) = columns->index[k];
    of_v(i) = v[k];
    of_u(i) = u[k];
  }
  const Eigen::FullPivLU<MatrixXd> rank(design);
  if (rank.rank() < design.cols()) return std::nullopt;
  const auto fit_v = regress(design, of_v);
  const auto fit_u = regress(design, of_u);
  if (!fit_v || !fit_u) return std::nullopt;
  if (many_rows && !more_even_than_chance(*fit_v, std::abs(fit_v->solution(1)))) return std::nullopt;
  const int column = 1 + int{many_rows};
  if (many_columns && !more_even_than_chance(*fit_u, std::abs(fit_u->solution(column)))) return std::nullopt;
  if (fit_u->sigma > kInLine_mm || fit_v->sigma > kInLine_mm) return std::nullopt;

  grid.origin_mm = fit_v->solution(0) * across + fit_u->solution(0) * along;
  if (many_rows) {
    grid.row_step_mm = fit_v->solution(1) * across + fit_u->solution(1) * along;
    grid.row_pitch = Pitch{grid.row_step_mm.norm(), fit_v->u(1)};
  }
  if (many_columns) {
    grid.column_step_mm = fit_v->solution(column) * across + fit_u->solution(column) * along;
    grid.column_pitch = Pitch{grid.column_step_mm.norm(), fit_u->u(column)};
  }
  if (static_cast<std::size_t>(steps_of(*rows) * steps_of(*columns)) >= 2 * members.size())
    return std::nullopt;  // more than half of it empty: half the pitch of another grid, or none
  grid.scatter_across_mm = fit_v->sigma;
  grid.scatter_along_mm = fit_u->sigma;
  grid.index.assign(all, std::nullopt);
  for (std::size_t k = 0; k < members.size(); ++k) {
    grid.index[members[k]] = GridIndex{rows->index[k], columns->index[k]};
    grid.rows = std::max(grid.rows, rows->index[k] + 1);
    grid.columns = std::max(grid.columns, columns->index[k] + 1);
    const VectorXd row = design.row(static_cast<Eigen::Index>(k)).transpose();
    grid.u_across_mm = std::max(grid.u_across_mm, fit_v->u_at(row));
    grid.u_along_mm = std::max(grid.u_along_mm, fit_u->u_at(row));
  }
  return grid;
}

}  // namespace jigtrue
