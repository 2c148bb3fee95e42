#include "image/measure_grid.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

constexpr double kWindowShare = 0.3;  // of the spacing: a wider window meets the neighbours' edges
constexpr double kMinWindowPx = 3.0;  // a smaller window holds too few pixels for a corner's unknowns
constexpr double kMinContrast = 4.0;  // half difference, grey levels
// Of the spacing: how far from its foreseen place a corner may be found, and how far it may lie in the end from where
// its neighbours put it: paper waves and lenses stay below that between neighbours, and outside of them, where a
// strongly bent grid goes on otherwise than a quadratic foresees, below the other.
constexpr double kCapture = 0.2;
constexpr double kOutOfPlace = 0.04;
constexpr double kOutOfPlaceOutside = 0.15;
constexpr double kHarmlessPx = 0.5;
constexpr double kAlternates = 0.5;  // of a neighbour's contrast, twice over between bright and dark

Vector2d half_axis(const Vector2d& step, double max_px) {
  const double length = step.norm();
  return step / length * std::clamp(kWindowShare * length, kMinWindowPx, max_px);
}

// The largest window of that shape which stays inside the picture: it must be symmetric about the corner.
Matrix2d window_inside(const cv::Mat1b& luma, const Vector2d& px, Matrix2d window) {
  const double room_x = std::min(px.x(), luma.cols - 1 - px.x()) - 0.5;
  const double room_y = std::min(px.y(), luma.rows - 1 - px.y()) - 0.5;
  const double share = std::min(room_x / window.row(0).norm(), room_y / window.row(1).norm());
  const double smallest = kMinWindowPx / std::min(window.col(0).norm(), window.col(1).norm());
  if (share < 1.0) window *= std::max(share, std::min(1.0, smallest));
  return window;
}

std::optional<CheckerFit> measure_corner(const cv::Mat1b& luma, const LocalGrid& grid, const Vector2d& px,
                                         const Look& look, const CheckerFit* before = nullptr) {
  CheckerStart start;
  start.before = before;
  start.px = px;
  start.edge_a = grid.tangent[0];
  start.edge_b = grid.tangent[1];
  Matrix2d window;
  window.col(0) = half_axis(start.edge_a, look.max_window_px);
  window.col(1) = half_axis(start.edge_b, look.max_window_px);
  start.window_px = window_inside(luma, px, window);
  start.blur_px = look.blur_px;
  start.settled_px = look.settled_px;
  start.curvature_a = grid.curvature[0];
  start.curvature_b = grid.curvature[1];
  const auto fit = refine_corner(luma, start);
  if (!fit || (fit->px - px).norm() > kCapture * grid.spacing()) return std::nullopt;
  if (std::abs(fit->contrast) < kMinContrast) return std::nullopt;
  if (fit->residual_rms > 0.35 * std::abs(fit->contrast)) return std::nullopt;
  constexpr double kTwist = 0.34;  // sine of 20 degrees
  const auto twist = [](const Vector2d& found, const Vector2d& wanted) {
    return std::abs(found.x() * wanted.y() - found.y() * wanted.x()) / wanted.norm();
  };
  if (twist(fit->edge_a, start.edge_a) > kTwist || twist(fit->edge_b, start.edge_b) > kTwist) return std::nullopt;
  return *fit;
}

bool is_even(const GridPlace& place) { return (place.column + place.row) % 2 == 0; }

std::optional<double> grey_round(const cv::Mat1b& luma, const Vector2d& p) {
  const int x = static_cast<int>(std::lround(p.x()));
  const int y = static_cast<int>(std::lround(p.y()));
  if (x < 1 || y < 1 || x + 1 >= luma.cols || y + 1 >= luma.rows) return std::nullopt;
  return cv::mean(luma(cv::Rect(x - 1, y - 1, 3, 3)))[0];
}

// Grey levels beside a place, in the four squares that meet there: by half squares along the grid's axes. Positive
// where a checkerboard's corner with this sign of contrast is seen: the least bright of its bright squares less the
// brightest of its dark ones.
double alternation(const cv::Mat1b& luma, const LocalGrid& grid, double sign) {
  constexpr double kNothing = -1e9;     // no alternation at all
  constexpr double kLeastStepPx = 2.5;  // between samples of neighbouring fields
  const Vector2d to_upper = 0.2 * (grid.tangent[0] + grid.tangent[1]);
  const Vector2d to_lower = 0.2 * (grid.tangent[0] - grid.tangent[1]);
  // near the picture's border as far out as it allows
  const double room = std::min({grid.px.x(), grid.px.y(), luma.cols - 1 - grid.px.x(), luma.rows - 1 - grid.px.y()});
  const double reach = std::max(to_upper.cwiseAbs().maxCoeff(), to_lower.cwiseAbs().maxCoeff());
  const double share = std::min(1.0, (room - 2.0) / reach);
  if (share < 1.0 && share * reach < kLeastStepPx) return kNothing;
  double bright = 1e9;
  double dark = kNothing;
  for (const int side : {-1, 1}) {
    // The grid is right-handed as printed: a positive contrast has its dark squares at lower left and upper right.
    const auto like = grey_round(luma, grid.px + share * side * to_upper);
    const auto unlike = grey_round(luma, grid.px + share * side * to_lower);
    if (!like || !unlike) return kNothing;
    bright = std::min(bright, sign > 0.0 ? *unlike : *like);
    dark = std::max(dark, sign > 0.0 ? *like : *unlike);
  }
  return bright - dark;
}

// Contrast that even places have: what most corners say.
double even_sign(const PlacedCorners& corners) {
  int sum = 0;
  for (const auto& [place, fit] : corners) sum += (fit.contrast > 0.0) == is_even(place) ? 1 : -1;
  return sum >= 0 ? 1.0 : -1.0;
}

void drop_wrong_colours(PlacedCorners& corners) {
  const double sign = even_sign(corners);
  std::erase_if(corners, [&](const auto& entry) {
    return entry.second.contrast * sign * (is_even(entry.first) ? 1.0 : -1.0) <= 0.0;
  });
}

void drop_without_square(PlacedCorners& corners) {
  std::vector<GridPlace> drop;
  for (const auto& [place, fit] : corners) {
    const auto has = [&, at = place](int column, int row) {
      return corners.contains({at.column + column, at.row + row});
    };
    bool square = false;
    for (const int a : {-1, 1})
      for (const int b : {-1, 1}) square = square || (has(a, 0) && has(0, b) && has(a, b));
    if (!square) drop.push_back(place);
  }
  for (const GridPlace& place : drop) corners.erase(place);
}

// How far corners lie from where those round them put them, against what is usual: between neighbours, and outside of
// them, where a bent grid goes on otherwise than a quadratic foresees.
class Displacements {
 public:
  explicit Displacements(const PlacedCorners& corners) : corners_(corners) {
    for (const auto& [place, fit] : corners) measure(place);
    for (const bool outside : {false, true}) {
      std::vector<double> shares;
      for (const auto& [place, at] : list_)
        if (at.outside == outside) shares.push_back(at.share);
      usual_[outside ? 1 : 0] = median(shares).value_or(0.0);
    }
  }
  void measure(const GridPlace& place) {
    const auto grid = local_grid(corners_, place);
    const auto between = [&](int column, int row) {
      return corners_.contains({place.column - column, place.row - row}) &&
             corners_.contains({place.column + column, place.row + row});
    };
    Displacement& at = list_[place];
    at.outside = !(between(1, 0) && between(0, 1));
    if (!grid) {
      at.px = at.share = 1e9;
      return;
    }
    at.px = (corners_.at(place).px - grid->px).norm();
    at.share = at.px / grid->spacing();
  }
  void forget(const GridPlace& place) { list_.erase(place); }
  // The place most out of place, if any is.
  [[nodiscard]] std::optional<GridPlace> worst() const {
    constexpr double kFarWorse = 5.0;  // times the usual
    std::optional<GridPlace> worst;
    double most = 1.0;
    for (const auto& [place, at] : list_) {
      const double allowed =
          std::max(at.outside ? kOutOfPlaceOutside : kOutOfPlace, kFarWorse * usual_[at.outside ? 1 : 0]);
      const double excess = at.px <= kHarmlessPx ? 0.0 : at.share / allowed;
      if (excess <= most) continue;
      most = excess;
      worst = place;
    }
    return worst;
  }

 private:
  struct Displacement {
    double px = 0.0;
    double share = 0.0;  // of the spacing
    bool outside = false;
  };
  const PlacedCorners& corners_;
  std::map<GridPlace, Displacement> list_;
  std::array<double, 2> usual_{};  // between, outside
};

// One by one, the worst first: a corner out of place moves what its neighbours foresee for each other.
void drop_out_of_place(PlacedCorners& corners) {
  Displacements displacements(corners);
  while (const auto gone = displacements.worst()) {
    corners.erase(*gone);
    displacements.forget(*gone);
    for (int column = -3; column <= 3; ++column)
      for (int row = -3; row <= 3; ++row) {
        const GridPlace near{gone->column + column, gone->row + row};
        if (corners.contains(near)) displacements.measure(near);
      }
  }
}

// What lies over a part of a corner's window, a hand's edge or a label's, moves its centre by more than the residuals
// say: windows that fit far worse than the others go.
void drop_spoiled(PlacedCorners& corners) {
  constexpr double kFarWorse = 4.0;   // times the usual window's residual
  constexpr double kHarmless = 0.12;  // of the contrast
  std::vector<double> rests;
  const auto rest_of = [](const CheckerFit& fit) { return fit.residual_rms / std::abs(fit.contrast); };
  for (const auto& [place, fit] : corners) rests.push_back(rest_of(fit));
  const double limit = std::max(kHarmless, kFarWorse * median(rests).value_or(0.0));
  std::erase_if(corners, [&](const auto& entry) { return rest_of(entry.second) > limit; });
}

std::vector<GridPlace> places_beside(const PlacedCorners& corners) {
  std::vector<GridPlace> beside;
  for (const auto& [place, fit] : corners)
    for (const int step : {1, -1, 2, -2}) {
      for (const GridPlace& next :
           {GridPlace{place.column + step, place.row}, GridPlace{place.column, place.row + step}})
        if (!corners.contains(next)) beside.push_back(next);
    }
  std::sort(beside.begin(), beside.end());
  beside.erase(std::unique(beside.begin(), beside.end()), beside.end());
  return beside;
}

void grow(const cv::Mat1b& luma, PlacedCorners& corners, const Look& look) {
  constexpr int kRounds = 100;      // a board has no more squares along a side
  std::map<GridPlace, int> failed;  // with how many corners round it
  const double sign = even_sign(corners);
  for (int round = 0; round < kRounds; ++round) {
    PlacedCorners found;
    for (const GridPlace& place : places_beside(corners)) {
      const auto grid = local_grid(corners, place);
      if (!grid) continue;
      const auto before = failed.find(place);
      if (before != failed.end() && before->second >= grid->support) continue;
      failed[place] = grid->support;
      const double own_sign = is_even(place) ? sign : -sign;
      if (alternation(luma, *grid, own_sign) < kAlternates * std::abs(grid->nearest->contrast)) continue;
      const auto fit = measure_corner(luma, *grid, grid->px, look);
      if (fit && fit->contrast * own_sign > 0.0) found.emplace(place, *fit);
    }
    if (found.empty()) return;
    corners.merge(found);
  }
}

}  // namespace

std::size_t unread_places(const cv::Mat1b& luma, const PlacedCorners& corners) {
  const double sign = even_sign(corners);
  std::size_t unread = 0;
  for (const GridPlace& place : places_beside(corners)) {
    const auto grid = local_grid(corners, place);
    if (grid &&
        alternation(luma, *grid, is_even(place) ? sign : -sign) >= kAlternates * std::abs(grid->nearest->contrast))
      ++unread;
  }
  return unread;
}

PlacedCorners measure_grid(const cv::Mat1b& luma, const PlacedCorners& expected, const Look& look) {
  PlacedCorners corners;
  for (const auto& [place, at] : expected) {
    const auto grid = local_grid(expected, place);
    if (!grid) continue;
    const CheckerFit* before = at.contrast != 0.0 ? &at : nullptr;
    if (const auto fit = measure_corner(luma, *grid, at.px, look, before)) corners.emplace(place, *fit);
  }
  drop_wrong_colours(corners);
  drop_out_of_place(corners);
  grow(luma, corners, look);
  drop_spoiled(corners);
  drop_out_of_place(corners);
  drop_without_square(corners);
  return corners;
}

bool holds_smallest_part(const PlacedCorners& corners) {
  return std::any_of(corners.begin(), corners.end(), [&](const auto& entry) {
    for (int column = 0; column < 3; ++column)
      for (int row = 0; row < 3; ++row)
        if (!corners.contains({entry.first.column + column, entry.first.row + row})) return false;
    return true;
  });
}

GridBounds bounds_of(const PlacedCorners& corners) {
  GridBounds bounds{corners.begin()->first, corners.begin()->first};
  for (const auto& [place, fit] : corners) {
    bounds.least = {std::min(bounds.least.column, place.column), std::min(bounds.least.row, place.row)};
    bounds.greatest = {std::max(bounds.greatest.column, place.column), std::max(bounds.greatest.row, place.row)};
  }
  return bounds;
}

std::array<bool, 4> ends_in_view(const cv::Mat1b& luma, const PlacedCorners& corners) {
  const GridBounds bounds = bounds_of(corners);
  std::array<bool, 4> ends{};
  for (int side = 0; side < 4; ++side) {
    const bool by_column = side < 2;
    const int outward = side % 2 == 0 ? -1 : 1;
    const GridPlace& edge = outward < 0 ? bounds.least : bounds.greatest;
    int seen = 0;
    int board_inside = 0;
    int board_outside = 0;
    int all = 0;
    const int first = by_column ? bounds.least.row : bounds.least.column;
    const int last = by_column ? bounds.greatest.row : bounds.greatest.column;
    for (int along = first; along <= last; ++along) {
      ++all;
      const GridPlace place = by_column ? GridPlace{edge.column, along} : GridPlace{along, edge.row};
      const auto corner = corners.find(place);
      const auto grid = local_grid(corners, place);
      if (corner == corners.end() || !grid) continue;
      const Vector2d out = outward * grid->tangent[by_column ? 0 : 1];
      const Vector2d beside = grid->tangent[by_column ? 1 : 0];
      // difference of the two squares that meet at the corner's outward edge, half and one and a half squares out
      const auto difference = [&](double squares) -> std::optional<double> {
        const auto one = grey_round(luma, corner->second.px + squares * out + 0.3 * beside);
        const auto other = grey_round(luma, corner->second.px + squares * out - 0.3 * beside);
        if (!one || !other) return std::nullopt;
        return *one - *other;
      };
      const auto inside = difference(0.5);
      const auto outside = difference(1.35);
      if (!inside || !outside) continue;
      ++seen;
      const double contrast = 2.0 * std::abs(corner->second.contrast);
      board_inside += std::abs(*inside) > 0.5 * contrast ? 1 : 0;
      board_outside += std::abs(*outside) > 0.35 * contrast ? 1 : 0;
    }
    ends[static_cast<std::size_t>(side)] =
        5 * seen >= 4 * all && 5 * board_inside >= 4 * seen && 5 * board_outside <= seen;
  }
  return ends;
}

}  // namespace jigtrue
