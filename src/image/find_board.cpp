#include "jigtrue/image/board.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>

#include "image/grid_map.hpp"
#include "image/grow_grid.hpp"
#include "image/refine_corner.hpp"
#include "image/saddle.hpp"
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kSearchPixels = 1.0e6;  // size of the shrunk copy that the board is looked for in
constexpr double kBoardRingPx = 3.5;     // in the shrunk copy: squares down to about 8 px
constexpr std::size_t kMaxBoardSaddles = 2500;
constexpr double kWindowShare = 0.3;    // of the spacing: a wider window meets the neighbours' edges
constexpr double kFirstWindowPx = 9.0;  // enough to settle from the shrunk copy's precision
constexpr double kMaxWindowPx = 24.0;   // precision grows with the root of this, time with it
constexpr double kMinWindowPx = 3.0;
// What the model of a corner leaves over on clean renderings (oblique edges, rounding to whole grey levels).
constexpr double kModelSigmaPx = 0.002;

cv::Mat1b shrink_by(const cv::Mat1b& luma, int factor) {
  if (factor == 1) return luma;
  cv::Mat1b small;
  // Whole blocks only, so that the factor is exact.
  const cv::Size size(luma.cols / factor, luma.rows / factor);
  const cv::Mat1b whole = luma(cv::Rect(0, 0, size.width * factor, size.height * factor));
  cv::resize(whole, small, size, 0.0, 0.0, cv::INTER_AREA);
  return small;
}

Vector2d from_shrunk(const Vector2d& p, int factor) {
  return (p.array() + 0.5).matrix() * factor - Vector2d::Constant(0.5);
}

std::string size_text(int columns, int rows) { return std::to_string(columns) + "x" + std::to_string(rows); }

// The same corners with the long side as columns, and X, Y, out of the face right-handed (the picture's y runs down).
CornerGrid turn_long_side(const CornerGrid& grid, const BoardSpec& board) {
  CornerGrid turned = grid;
  if (grid.columns != board.inner_columns()) {
    turned.columns = grid.rows;
    turned.rows = grid.columns;
    for (int row = 0; row < turned.rows; ++row)
      for (int column = 0; column < turned.columns; ++column)
        turned.px[turned.index(column, row)] = grid.px[grid.index(row, column)];
  }
  const Vector2d right = turned.px[turned.index(turned.columns - 1, 0)] - turned.px[turned.index(0, 0)];
  const Vector2d up = turned.px[turned.index(0, turned.rows - 1)] - turned.px[turned.index(0, 0)];
  if (right.x() * up.y() - right.y() * up.x() > 0.0) {
    for (int row = 0; row < turned.rows / 2; ++row)
      for (int column = 0; column < turned.columns; ++column)
        std::swap(turned.px[turned.index(column, row)], turned.px[turned.index(column, turned.rows - 1 - row)]);
  }
  return turned;
}

double smallest_spacing(const CornerGrid& grid) {
  double smallest = 1e9;
  for (int row = 0; row < grid.rows; ++row)
    for (int column = 0; column < grid.columns; ++column) {
      const Vector2d& p = grid.px[grid.index(column, row)];
      if (column + 1 < grid.columns) smallest = std::min(smallest, (grid.px[grid.index(column + 1, row)] - p).norm());
      if (row + 1 < grid.rows) smallest = std::min(smallest, (grid.px[grid.index(column, row + 1)] - p).norm());
    }
  return smallest;
}

std::string corner_text(int column, int row) {
  return "corner " + std::to_string(column + 1) + ", " + std::to_string(row + 1) + " of the board";
}

// How a round of refinement looks at a corner.
struct Look {
  double max_window_px = kMaxWindowPx;
  double blur_px = 1.5;
};

Vector2d half_axis(const Vector2d& step, double max_px) {
  const double length = step.norm();
  return step / length * std::clamp(kWindowShare * length, kMinWindowPx, max_px);
}

struct RefinedGrid {
  CornerGrid grid;
  std::vector<CheckerFit> fits;
};

Outcome<CheckerFit> measure_corner(const cv::Mat1b& luma, const GridMap& map, const Vector2d& px, int column, int row,
                                   const Look& look) {
  CheckerStart start;
  start.px = px;
  start.edge_a = map.tangent(column, row, 0);
  start.edge_b = map.tangent(column, row, 1);
  start.window_px.col(0) = half_axis(start.edge_a, look.max_window_px);
  start.window_px.col(1) = half_axis(start.edge_b, look.max_window_px);
  start.blur_px = look.blur_px;
  start.curvature_a = map.curvature(column, row, 0);
  start.curvature_b = map.curvature(column, row, 1);
  const double spacing = std::min(start.edge_a.norm(), start.edge_b.norm());
  auto fit = refine_corner(luma, start);
  if (!fit) return fit;
  if ((fit->px - px).norm() > 0.2 * spacing) return Failure{"there is no corner where its neighbours want one"};
  if (std::abs(fit->contrast) < 4.0) return Failure{"black and white hardly differ there"};
  if (fit->residual_rms > 0.35 * std::abs(fit->contrast)) return Failure{"what is seen there is no checker corner"};
  constexpr double kTwist = 0.34;  // sine of 20 degrees
  const auto twist = [](const Vector2d& found, const Vector2d& wanted) {
    return std::abs(found.x() * wanted.y() - found.y() * wanted.x()) / wanted.norm();
  };
  if (twist(fit->edge_a, start.edge_a) > kTwist || twist(fit->edge_b, start.edge_b) > kTwist)
    return Failure{"its edges do not run along the grid"};
  return fit;
}

Outcome<RefinedGrid> refine_grid(const cv::Mat1b& luma, const CornerGrid& grid, const Look& look) {
  const GridMap map(grid.columns, grid.rows, grid.px);
  RefinedGrid refined{grid, {}};
  refined.fits.reserve(grid.px.size());
  for (int row = 0; row < grid.rows; ++row)
    for (int column = 0; column < grid.columns; ++column) {
      const std::size_t i = grid.index(column, row);
      auto fit = measure_corner(luma, map, grid.px[i], column, row, look);
      if (!fit) return Failure{corner_text(column, row) + " cannot be measured: " + fit.reason()};
      refined.grid.px[i] = fit->px;
      refined.fits.push_back(*fit);
    }
  return refined;
}

double middle_blur(const std::vector<CheckerFit>& fits) {
  std::vector<double> blurs;
  blurs.reserve(fits.size());
  for (const CheckerFit& fit : fits) blurs.push_back(0.5 * (fit.blur_a_px + fit.blur_b_px));
  const auto middle = blurs.begin() + static_cast<std::ptrdiff_t>(blurs.size() / 2);
  std::nth_element(blurs.begin(), middle, blurs.end());
  return *middle;
}

// With the axes right-handed, a corner whose counts add up to an even number has its bright squares at lower right and
// upper left; if it is the other way round, the board is read from the wrong end.
void turn_to_black_origin(RefinedGrid& refined) {
  if (refined.fits.front().contrast > 0.0) return;
  std::reverse(refined.grid.px.begin(), refined.grid.px.end());
  std::reverse(refined.fits.begin(), refined.fits.end());
}

std::optional<std::string> colours_contradict(const cv::Mat1b& luma, const GridMap& map, const RefinedGrid& refined) {
  const CornerGrid& grid = refined.grid;
  int outer = 0;
  int outer_wrong = 0;
  for (int row = 0; row < grid.rows; ++row)
    for (int column = 0; column < grid.columns; ++column) {
      const double sign = (column + row) % 2 == 0 ? 1.0 : -1.0;
      if (refined.fits[grid.index(column, row)].contrast * sign <= 0.0)
        return "the colours of the squares do not alternate at " + corner_text(column, row);
    }
  for (int row = -1; row < grid.rows; ++row)
    for (int column = -1; column < grid.columns; ++column) {
      const Vector2d middle = map(column + 0.5, row + 0.5);
      const cv::Rect patch(static_cast<int>(std::lround(middle.x())) - 1, static_cast<int>(std::lround(middle.y())) - 1,
                           3, 3);
      if (patch.x < 0 || patch.y < 0 || patch.x + 3 > luma.cols || patch.y + 3 > luma.rows) continue;
      const int near_column = std::clamp(column, 0, grid.columns - 1);
      const int near_row = std::clamp(row, 0, grid.rows - 1);
      const CheckerFit& near = refined.fits[grid.index(near_column, near_row)];
      const double black = (column + row) % 2 == 0 ? 1.0 : -1.0;  // square (column + 1, row + 1) of the board
      const bool right = black * (near.level - cv::mean(luma(patch))[0]) > 0.2 * std::abs(near.contrast);
      const bool inner = column >= 0 && row >= 0 && column + 1 < grid.columns && row + 1 < grid.rows;
      if (inner && !right) return "the square between its corners has the wrong colour at " + corner_text(column, row);
      if (!inner) {
        ++outer;
        outer_wrong += right ? 0 : 1;
      }
    }
  // A thumb or a clip may lie on the outer squares; more than that is another pattern.
  if (outer_wrong * 6 > outer) return "the outer squares do not have a board's colours";
  return std::nullopt;
}

std::optional<std::string> shape_contradicts(const GridMap& map, const CornerGrid& grid) {
  const double allowed = std::max(0.5, 0.02 * smallest_spacing(grid));
  for (int row = 0; row < grid.rows; ++row)
    for (int column = 0; column < grid.columns; ++column)
      if ((map(column, row) - grid.px[grid.index(column, row)]).norm() > allowed)
        return corner_text(column, row) + " does not lie where the other corners put it";
  return std::nullopt;
}

Outcome<BoardCorners> measure_board(const cv::Mat1b& luma, const BoardSpec& board, const CornerGrid& coarse) {
  // Twice: the second time with the bend of the lens known from good corners.
  auto refined = refine_grid(luma, turn_long_side(coarse, board), {kFirstWindowPx, 1.5});
  if (refined) refined = refine_grid(luma, refined->grid, {kMaxWindowPx, middle_blur(refined->fits)});
  if (!refined) return refined.failure();
  turn_to_black_origin(*refined);
  const CornerGrid& grid = refined->grid;
  const GridMap map(grid.columns, grid.rows, grid.px);
  if (const auto reason = shape_contradicts(map, grid)) return Failure{*reason};
  if (const auto reason = colours_contradict(luma, map, *refined)) return Failure{*reason};

  BoardCorners corners{board, grid.px, {}, smallest_spacing(grid), {}, true};
  double white = 0.0;
  double lagged = 0.0;
  for (const CheckerFit& fit : refined->fits) {
    white += fit.white_variance;
    lagged += fit.lagged_variance;
  }
  // One corner's window is too small to tell how far its noise hangs together; all of them are not.
  const double common = 1.0 + std::max(0.0, lagged / white);
  for (const CheckerFit& fit : refined->fits)
    corners.sigma_px.push_back(std::sqrt(fit.white_variance * common + kModelSigmaPx * kModelSigmaPx));
  return corners;
}

bool has_size(const CornerGrid& grid, int columns, int rows) {
  return (grid.columns == columns && grid.rows == rows) || (grid.columns == rows && grid.rows == columns);
}

struct Attempt {
  std::optional<BoardCorners> corners;
  Failure reason;
  int certainty = 0;  // how much the reason knows, to report the best of several attempts
};

Attempt explain_absence(const CornerGrids& found, const BoardSpec& board) {
  const std::string wanted = size_text(board.columns, board.rows);
  if (found.grids.empty()) {
    if (found.contradictory > 0) return {{}, {"the only grid in the photo contradicts itself"}, 2};
    return {{}, {"no board is to be seen"}, 0};
  }
  const CornerGrid& grid = found.grids.front();
  const int columns = std::max(grid.columns, grid.rows) + 1;
  const int rows = std::min(grid.columns, grid.rows) + 1;
  const std::string seen = size_text(columns, rows);
  if (columns == board.columns + 1 && rows == board.rows + 1)
    return {{},
            {"found a board of " + seen + " squares, not " + wanted + ": were corners counted instead of squares?",
             FailureCode::another_board},
            5};
  if (columns >= board.columns && rows >= board.rows)
    return {{},
            {"found a board of " + seen + " squares, not " + wanted + ": was the board given wrongly?",
             FailureCode::another_board},
            4};
  if (grid.seen_count * 2 < board.corner_count()) return {{}, {"no board of " + wanted + " squares is to be seen"}, 1};
  return {{},
          {"found only " + seen + " of the board's " + wanted +
               " squares: is part of it covered or outside the photo, or was the board given wrongly?",
           FailureCode::part_of_board},
          3};
}

Attempt look_at_scale(const cv::Mat1b& luma, const BoardSpec& board, int factor) {
  const cv::Mat1b small = shrink_by(luma, factor);
  const CornerGrids found = grow_grids(small, find_saddles(small, kBoardRingPx, kMaxBoardSaddles));
  std::vector<CornerGrid> matching;
  for (const CornerGrid& grid : found.grids)
    if (has_size(grid, board.inner_columns(), board.inner_rows()) && grid.seen_count * 5 >= board.corner_count() * 4)
      matching.push_back(grid);
  if (matching.empty()) return explain_absence(found, board);
  if (matching.size() > 1) return {{}, {"more than one board of that size is in the photo"}, 7};
  for (Vector2d& p : matching.front().px) p = from_shrunk(p, factor);
  auto corners = measure_board(luma, board, matching.front());
  if (!corners) return {{}, corners.failure(), 6};
  return {std::move(corners).value(), {}, 8};
}

}  // namespace

Outcome<BoardCorners> find_board(const cv::Mat1b& luma, const BoardSpec& board) {
  if (luma.empty() || std::min(board.columns, board.rows) < 3 || (board.columns + board.rows) % 2 == 0 ||
      board.columns < board.rows)
    throw std::logic_error("find_board: empty picture or impossible board " + size_text(board.columns, board.rows));
  const double pixels = static_cast<double>(luma.cols) * static_cast<double>(luma.rows);
  const int factor = std::max(1, static_cast<int>(std::ceil(std::sqrt(pixels / kSearchPixels))));
  // The usual size first; a coarser copy for a blurred or very large board, a finer one for a small board.
  std::vector<int> factors{factor, 2 * factor};
  if (factor > 1) factors.push_back((factor + 1) / 2);
  Attempt best;
  best.certainty = -1;
  for (const int f : factors) {
    if (std::min(luma.cols, luma.rows) / f < 32) continue;
    Attempt attempt = look_at_scale(luma, board, f);
    if (attempt.corners) return std::move(*attempt.corners);
    if (attempt.certainty > best.certainty) best = std::move(attempt);
  }
  if (best.certainty < 0) return Failure{"the photo is too small"};
  return best.reason;
}

}  // namespace jigtrue
