#include "jigtrue/measurement/regular_grid.hpp"

#include "jigtrue/base/series.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <utility>

namespace jigtrue {
namespace {

constexpr double kParallel_deg = 6.0;  // blanks of one grid lie in their slots askew by less
// Four of five jigs are made regular (common practice, no source): of the grids taken less than one in twenty is then
// there by chance.
constexpr double kByChance = 0.2;
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

// Values that lie in one step, as their mean; `apart`: closer ones do.
struct Groups {
  std::vector<double> means;       // growing
  std::vector<std::size_t> group;  // of each value
};
Groups grouped(const std::vector<double>& values, double apart) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
  Groups groups;
  groups.group.resize(values.size());
  std::size_t count = 0;
  for (std::size_t k = 0; k < order.size(); ++k) {
    const double value = values[order[k]];
    if (k == 0 || value - groups.means.back() > apart) {
      groups.means.push_back(value);
      count = 1;
    } else {
      ++count;
      groups.means.back() += (value - groups.means.back()) / static_cast<double>(count);
    }
    groups.group[order[k]] = groups.means.size() - 1;
  }
  return groups;
}

// Each value's whole step from the first, when `from` lies in one and they are so far apart; and the largest distance
// from a whole step, in steps. Nothing when two fall into one, or where that distance is more than `most`.
struct Fitted {
  std::vector<int> index;
  double largest = 0.001;  // nothing is measured better: of steps that are all exact the widest are taken
};
std::optional<Fitted> fitted_steps(const std::vector<double>& means, double from, double pitch, double most) {
  Fitted fit;
  fit.index.reserve(means.size());
  for (const double mean : means) {
    const double steps = (mean - from) / pitch;
    const auto whole = static_cast<int>(std::lround(steps));
    if (!fit.index.empty() && whole <= fit.index.back()) return std::nullopt;
    fit.index.push_back(whole);
    fit.largest = std::max(fit.largest, std::abs(steps - whole));
    if (fit.largest > most) return std::nullopt;
  }
  const int first = fit.index.front();
  for (int& index : fit.index) index -= first;
  return fit;
}

// Whole steps between values that are spaced evenly but for gaps and chance. Every two of them, taken to be some number
// of steps apart, are a hypothesis; m values of any spacing would all lie so near to its steps with probability
// (2 largest)^(m - 2). How often that is to be expected by chance among all hypotheses tried is `by_chance`, and the
// best one has the least (a contrario: Desolneux, Moisan & Morel, IJCV 40(1), 2000): half of a pitch explains as much
// with half the surprise, and is not taken. Two values are some pitch apart whatever they are: by_chance is 1.
struct Steps {
  std::vector<int> index;
  double by_chance = 1.0;
  [[nodiscard]] int count() const { return 1 + *std::max_element(index.begin(), index.end()); }
};
Steps even_steps(const std::vector<double>& values, double apart) {
  const Groups groups = grouped(values, apart);
  const std::size_t m = groups.means.size();
  std::vector<int> best(m, 0);
  if (m == 2) best[1] = 1;
  Steps steps;
  double tried = 0.0;
  double least = 0.5;  // distance from a whole step: there is none larger
  for (std::size_t i = 0; m > 2 && i < m; ++i) {
    for (std::size_t j = i + 1; j < m; ++j) {
      const double span = groups.means[j] - groups.means[i];
      // blanks abreast do not overlap
      const int most_steps = std::max(1, static_cast<int>(span / (2.0 * apart)));
      tried += most_steps;
      for (int k = 1; k <= most_steps; ++k) {
        auto fit = fitted_steps(groups.means, groups.means[i], span / k, least);
        // of equally exact ones the widest pitch
        if (!fit || (fit->largest == least && best.back() > 0 && fit->index.back() >= best.back())) continue;
        least = fit->largest;
        best = std::move(fit->index);
      }
    }
  }
  if (m > 2) steps.by_chance = std::min(tried * std::pow(2.0 * least, static_cast<double>(m - 2)), 1.0);
  steps.index.reserve(values.size());
  for (const std::size_t group : groups.group) steps.index.push_back(best[group]);
  return steps;
}

// value = first + row * by_row + column * by_column
struct Regression {
  VectorXd solution;
  MatrixXd cofactors;
  double sigma = 0.0;
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
  return result;
}

// The slots that may stand in a grid, and how that lies.
struct Members {
  std::vector<std::size_t> index;
  double heading_rad = 0.0;
};
std::optional<Members> members_of(const std::vector<Slot>& slots, RegularGrid& grid) {
  Members members;
  if (are_discs(slots)) {
    members.index.resize(slots.size());
    std::iota(members.index.begin(), members.index.end(), std::size_t{0});
    members.heading_rad = grid_heading(slots);
    return members;
  }
  members.index = parallel_ones(slots);
  if (members.index.size() < 3 || 2 * members.index.size() < slots.size()) return std::nullopt;
  std::vector<double> axes;
  axes.reserve(members.index.size());
  for (const std::size_t i : members.index) axes.push_back(rad_from_deg(slots[i].axis_deg));
  members.heading_rad = mean_direction(axes, 2.0).first;
  double squares = 0.0;
  for (const double axis : axes) squares += std::pow(std::remainder(axis - members.heading_rad, kPi), 2);
  const auto freedom = static_cast<int>(axes.size()) - 1;
  grid.axis_deg = deg_from_rad(members.heading_rad);
  grid.scatter_turn_deg = deg_from_rad(std::sqrt(squares / freedom));
  grid.u_axis_deg = students_t(freedom) * grid.scatter_turn_deg / std::sqrt(static_cast<double>(axes.size()));
  return members;
}

// Both coordinates of the members' places, as linear functions of row and column.
struct GridFit {
  Steps rows;
  Steps columns;
  MatrixXd design;  // 1, row where there are several, column where there are several
  Regression across;
  Regression along;
  [[nodiscard]] bool many_rows() const { return rows.count() > 1; }
  [[nodiscard]] bool many_columns() const { return columns.count() > 1; }
  [[nodiscard]] int column_parameter() const { return 1 + int{many_rows()}; }

  [[nodiscard]] bool is_believable(std::size_t choices) const {
    for (const Steps* steps : {&rows, &columns})
      if (steps->count() > 2 && steps->by_chance * static_cast<double>(choices) > kByChance) return false;
    if (along.sigma > kInLine_mm || across.sigma > kInLine_mm) return false;
    // more than half of it empty: half the pitch of another grid, or none
    return rows.count() * columns.count() < 2 * static_cast<int>(rows.index.size());
  }
};

std::optional<GridFit> fit_grid(const std::vector<Slot>& slots, const Members& members) {
  const Vector2d along = unit_vector(members.heading_rad);
  const Vector2d across = turned_left(along);
  const double girth = largest_girth_mm(slots.front().blank.shape);
  const double length = are_discs(slots) ? girth : length_mm(slots.front().blank.shape);
  std::vector<double> v;
  std::vector<double> u;
  for (const std::size_t i : members.index) {
    v.push_back(slots[i].centre_mm.dot(across));
    u.push_back(slots[i].centre_mm.dot(along));
  }
  GridFit fit;
  fit.rows = even_steps(v, 0.5 * girth);
  fit.columns = even_steps(u, 0.5 * length);
  const auto n = static_cast<Eigen::Index>(members.index.size());
  fit.design = MatrixXd::Ones(n, fit.column_parameter() + int{fit.many_columns()});
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    if (fit.many_rows()) fit.design(i, 1) = fit.rows.index[k];
    if (fit.many_columns()) fit.design(i, fit.column_parameter()) = fit.columns.index[k];
  }
  if (Eigen::FullPivLU<MatrixXd>(fit.design).rank() < fit.design.cols()) return std::nullopt;
  auto of_v = regress(fit.design, Eigen::Map<const VectorXd>(v.data(), n));
  auto of_u = regress(fit.design, Eigen::Map<const VectorXd>(u.data(), n));
  if (!of_v || !of_u) return std::nullopt;
  fit.across = std::move(*of_v);
  fit.along = std::move(*of_u);
  return fit;
}

}  // namespace

std::optional<RegularGrid> regular_grid(const std::vector<Slot>& slots, std::size_t choices) {
  if (slots.size() < 3) return std::nullopt;
  RegularGrid grid;
  const auto members = members_of(slots, grid);
  if (!members) return std::nullopt;
  const auto fit = fit_grid(slots, *members);
  if (!fit || !fit->is_believable(choices)) return std::nullopt;

  const Vector2d along = unit_vector(members->heading_rad);
  const auto bed = [&](int parameter) -> Vector2d {
    return fit->across.solution(parameter) * turned_left(along) + fit->along.solution(parameter) * along;
  };
  grid.origin_mm = bed(0);
  if (fit->many_rows()) {
    grid.row_step_mm = bed(1);
    if (fit->rows.by_chance < 1.0) grid.row_pitch = Pitch{grid.row_step_mm.norm(), fit->across.u(1)};
  }
  if (fit->many_columns()) {
    grid.column_step_mm = bed(fit->column_parameter());
    if (fit->columns.by_chance < 1.0)
      grid.column_pitch = Pitch{grid.column_step_mm.norm(), fit->along.u(fit->column_parameter())};
  }
  grid.scatter_across_mm = fit->across.sigma;
  grid.scatter_along_mm = fit->along.sigma;
  grid.rows = fit->rows.count();
  grid.columns = fit->columns.count();
  grid.index.assign(slots.size(), std::nullopt);
  for (std::size_t k = 0; k < members->index.size(); ++k) {
    grid.index[members->index[k]] = GridIndex{fit->rows.index[k], fit->columns.index[k]};
    const VectorXd row = fit->design.row(static_cast<Eigen::Index>(k)).transpose();
    grid.u_across_mm = std::max(grid.u_across_mm, fit->across.u_at(row));
    grid.u_along_mm = std::max(grid.u_along_mm, fit->along.u_at(row));
  }
  return grid;
}

}  // namespace jigtrue
