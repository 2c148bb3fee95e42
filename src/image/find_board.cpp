#include "jigtrue/image/board.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>

#include "image/grow_grid.hpp"
#include "image/measure_grid.hpp"
#include "image/saddle.hpp"
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kSearchPixels = 1.0e6;     // size of the shrunk copy that the board is looked for in
constexpr double kRingPx = 3.5;             // in the shrunk copy: squares down to about 8 px
constexpr std::size_t kMaxSaddles = 2500;   // the strongest: texture makes more
constexpr Look kFirstLook{6.0, 1.5, 0.02};  // enough to settle from the saddles' precision and to learn the blur
constexpr double kMaxWindowPx = 24.0;       // precision grows with the root of this, time with it
constexpr double kSettledPx = 5e-4;         // a tenth of the smallest bias worth speaking of
// Corners are measured where the blur is about this, standard deviation: a picture shrunk so far has lost nothing of
// its edges, and windows of some px hold all of them.
constexpr double kMeasuredBlurPx = 1.2;
constexpr double kSmallestSpacingPx = 12.0;  // that shrinking may leave
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

// A picture's px as those of a copy that is so many times larger.
Vector2d scaled(const Vector2d& p, double factor) {
  return (p.array() + 0.5).matrix() * factor - Vector2d::Constant(0.5);
}

std::string size_text(int columns, int rows) {
  return std::to_string(std::max(columns, rows)) + "x" + std::to_string(std::min(columns, rows));
}

double smallest_spacing(const PlacedCorners& corners) {
  double smallest = 1e9;
  for (const auto& [place, fit] : corners)
    for (const GridPlace& next : {GridPlace{place.column + 1, place.row}, GridPlace{place.column, place.row + 1}}) {
      const auto neighbour = corners.find(next);
      if (neighbour != corners.end()) smallest = std::min(smallest, (neighbour->second.px - fit.px).norm());
    }
  return smallest;
}

double middle_blur(const PlacedCorners& corners) {
  std::vector<double> blurs;
  blurs.reserve(corners.size());
  for (const auto& [place, fit] : corners) blurs.push_back(0.5 * (fit.blur_a_px + fit.blur_b_px));
  const auto middle = blurs.begin() + static_cast<std::ptrdiff_t>(blurs.size() / 2);
  std::nth_element(blurs.begin(), middle, blurs.end());
  return *middle;
}

// A grid with the shrinking that it was measured at; px of the shrunk copy.
struct MeasuredGrid {
  PlacedCorners corners;
  int factor = 1;
};

// How far to shrink the picture for its blur.
int factor_for_blur(const MeasuredGrid& coarse) {
  const double pixel_area = 1.0 / 12.0;  // variance that a shrunk pixel's own area adds
  const double blur = middle_blur(coarse.corners);
  const double blur_px = coarse.factor * std::sqrt(std::max(0.0, blur * blur - pixel_area));
  const double spacing_px = coarse.factor * smallest_spacing(coarse.corners);
  return std::max(1, static_cast<int>(std::min(blur_px / kMeasuredBlurPx, spacing_px / kSmallestSpacingPx)));
}

MeasuredGrid measure_finely(const cv::Mat1b& luma, const MeasuredGrid& coarse) {
  MeasuredGrid fine;
  fine.factor = factor_for_blur(coarse);
  const double scale = static_cast<double>(coarse.factor) / fine.factor;
  PlacedCorners expected = coarse.corners;
  for (auto& [place, fit] : expected) {
    fit.px = scaled(fit.px, scale);
    fit.blur_a_px *= scale;
    fit.blur_b_px *= scale;
    fit.light /= scale;
  }
  fine.corners = measure_grid(shrink_by(luma, fine.factor), expected,
                              {kMaxWindowPx, std::max(0.5, scale * middle_blur(coarse.corners)), kSettledPx});
  return fine;
}

// Outer lines that hold less than a quarter of their corners, when the grid is larger than the board: what hangs on to
// a board rather than belongs to it.
void drop_stray_lines(PlacedCorners& corners, const BoardSpec& board) {
  while (!corners.empty()) {
    const GridBounds bounds = bounds_of(corners);
    if (std::max(bounds.columns(), bounds.rows()) <= board.inner_columns() &&
        std::min(bounds.columns(), bounds.rows()) <= board.inner_rows())
      return;
    const std::size_t before = corners.size();
    const auto drop = [&](int GridPlace::*axis, int line, int length) {
      const auto on_line = [&](const auto& entry) { return entry.first.*axis == line; };
      if (corners.size() == before && 4 * std::count_if(corners.begin(), corners.end(), on_line) < length)
        std::erase_if(corners, on_line);
    };
    drop(&GridPlace::column, bounds.least.column, bounds.rows());
    drop(&GridPlace::column, bounds.greatest.column, bounds.rows());
    drop(&GridPlace::row, bounds.least.row, bounds.columns());
    drop(&GridPlace::row, bounds.greatest.row, bounds.columns());
    if (corners.size() == before) return;
  }
}

// A grid's places counted anew.
struct Recount {
  GridPlace origin;
  int quarter_turns = 0;  // of the frame, the way that the columns' axis turns towards the rows'

  [[nodiscard]] GridPlace operator()(const GridPlace& place) const {
    GridPlace p{place.column - origin.column, place.row - origin.row};
    for (int turn = 0; turn < quarter_turns; ++turn) p = {p.row, -p.column};
    return p;
  }
};

bool even_squares_black(const PlacedCorners& corners) {
  int sum = 0;
  for (const auto& [place, fit] : corners)
    sum += (fit.contrast > 0.0) == ((place.column + place.row) % 2 == 0) ? 1 : -1;
  return sum > 0;
}

// The whole board's places in its frame: the first of the turned frames whose outline lies along the board's and whose
// origin is a black square, or failing that (a board without a black corner there) the first along the board.
Recount board_frame(const PlacedCorners& corners, const GridBounds& bounds, const BoardSpec& board) {
  const GridPlace corner_of_turn[4] = {bounds.least,
                                       {bounds.greatest.column, bounds.least.row},
                                       bounds.greatest,
                                       {bounds.least.column, bounds.greatest.row}};
  std::optional<Recount> first;
  for (int turn = 0; turn < 4; ++turn) {
    const bool upright = turn % 2 == 0;
    if ((upright ? bounds.columns() : bounds.rows()) != board.inner_columns()) continue;
    const Recount frame{corner_of_turn[turn], turn};
    const bool even_place = (frame.origin.column + frame.origin.row) % 2 == 0;
    // each quarter turn swaps what counts as lower left
    const bool black = (even_squares_black(corners) == even_place) == upright;
    if (black) return frame;
    if (!first) first = frame;
  }
  return *first;
}

Recount part_frame(const PlacedCorners& corners, const GridBounds& bounds) {
  Recount frame{bounds.least, 0};
  const bool even_place = (frame.origin.column + frame.origin.row) % 2 == 0;
  if (even_squares_black(corners) != even_place) --frame.origin.column;
  return frame;
}

BoardCorners describe(const MeasuredGrid& grid, const BoardSpec& board) {
  const GridBounds bounds = bounds_of(grid.corners);
  BoardCorners result;
  result.board = board;
  result.whole = std::max(bounds.columns(), bounds.rows()) == board.inner_columns() &&
                 std::min(bounds.columns(), bounds.rows()) == board.inner_rows();
  result.square_px = grid.factor * smallest_spacing(grid.corners);
  const Recount frame = result.whole ? board_frame(grid.corners, bounds, board) : part_frame(grid.corners, bounds);
  double white = 0.0;
  double lagged = 0.0;
  std::vector<std::pair<GridPlace, const CheckerFit*>> ordered;
  for (const auto& [place, fit] : grid.corners) {
    white += fit.white_variance;
    lagged += fit.lagged_variance;
    ordered.emplace_back(frame(place), &fit);
  }
  std::sort(ordered.begin(), ordered.end(), [](const auto& a, const auto& b) {
    return std::pair(a.first.row, a.first.column) < std::pair(b.first.row, b.first.column);
  });
  // One corner's window is too small to tell how far its noise hangs together; all of them are not.
  const double common = 1.0 + std::max(0.0, lagged / white);
  for (const auto& [place, fit] : ordered) {
    result.places.push_back(place);
    result.px.push_back(scaled(fit->px, grid.factor));
    result.sigma_px.push_back(grid.factor * std::sqrt(fit->white_variance * common + kModelSigmaPx * kModelSigmaPx));
  }
  if (result.whole && static_cast<int>(result.px.size()) == board.corner_count()) result.places.clear();
  return result;
}

std::optional<std::string> other_counts(const cv::Mat1b& luma, const MeasuredGrid& grid, const BoardSpec& board) {
  const GridBounds bounds = bounds_of(grid.corners);
  const int longer = std::max(bounds.columns(), bounds.rows()) + 1;
  const int shorter = std::min(bounds.columns(), bounds.rows()) + 1;
  if (longer == board.columns && shorter == board.rows) return std::nullopt;
  const std::string text =
      "found a board of " + size_text(longer, shorter) + " squares, not " + size_text(board.columns, board.rows);
  if (longer == board.columns + 1 && shorter == board.rows + 1)
    return text + ": were corners counted instead of squares?";
  if (longer > board.columns || shorter > board.rows) return text + ": was the board given wrongly?";
  const auto ends = ends_in_view(shrink_by(luma, grid.factor), grid.corners);
  if (std::all_of(ends.begin(), ends.end(), [](bool end) { return end; }))
    return text + ": was the board given wrongly?";
  return std::nullopt;
}

// What one shrinking of the photo shows.
struct Attempt {
  std::optional<BoardCorners> corners;
  Failure reason;
  int certainty = 0;       // how much the reason knows, to report the best of several attempts
  std::size_t unread = 0;  // places beside the corners where the board seems to go on
};

Attempt look_at_scale(const cv::Mat1b& luma, const BoardSpec& board, int factor) {
  const cv::Mat1b small = shrink_by(luma, factor);
  Attempt best{{}, {"no board is to be seen"}, 0};
  std::vector<double> boards;  // sizes of their squares, px
  for (const PlacedCorners& group : grow_grids(small, find_saddles(small, kRingPx, kMaxSaddles))) {
    // Groups come most corners first. Of smaller ones a board hidden in part may still grow to be the larger, and a
    // second whole board be nearly as large.
    const double share = best.corners && best.corners->whole ? 0.8 : 0.3;
    if (best.corners && static_cast<double>(group.size()) < share * static_cast<double>(best.corners->px.size())) break;
    const MeasuredGrid coarse{measure_grid(small, group, kFirstLook), factor};
    if (!holds_smallest_part(coarse.corners)) {
      if (best.certainty == 0 && coarse.corners.size() >= 4)
        best = {{}, {"fewer than 4x4 squares of the board are to be seen", FailureCode::part_of_board}, 1};
      continue;
    }
    MeasuredGrid fine = measure_finely(luma, coarse);
    drop_stray_lines(fine.corners, board);
    if (!holds_smallest_part(fine.corners)) {
      if (best.certainty <= 1)
        best = {{}, {"too few of the board's corners can be measured: it is not sharp enough"}, 2};
      continue;
    }
    if (const auto reason = other_counts(luma, fine, board)) {
      if (!best.corners) best = {{}, {*reason, FailureCode::another_board}, 5};
      continue;
    }
    BoardCorners corners = describe(fine, board);
    if (corners.whole) boards.push_back(corners.square_px);
    const auto rank = [](const BoardCorners& c) {
      return std::pair(c.whole, c.whole ? c.square_px : static_cast<double>(c.px.size()));
    };
    if (!best.corners || rank(corners) > rank(*best.corners))
      best = {std::move(corners), {}, 6, unread_places(shrink_by(luma, fine.factor), fine.corners)};
  }
  // a mirror or a screen may show the board again: what is less than half as large is not meant
  const auto rivals = [&](double square_px) { return best.corners && square_px > 0.5 * best.corners->square_px; };
  if (std::count_if(boards.begin(), boards.end(), rivals) > 1)
    return {{}, {"more than one board of that size is in the photo"}, 7};
  return best;
}

}  // namespace

Outcome<BoardCorners> find_board(const cv::Mat1b& luma, const BoardSpec& board) {
  if (luma.empty() || board.rows < 3 || board.columns < board.rows)
    throw std::logic_error("find_board: empty picture or impossible board " + std::to_string(board.columns) + "x" +
                           std::to_string(board.rows));
  const double pixels = static_cast<double>(luma.cols) * static_cast<double>(luma.rows);
  const int factor = std::max(1, static_cast<int>(std::ceil(std::sqrt(pixels / kSearchPixels))));
  // The usual size first; a coarser copy for a blurred or very large board, a finer one for a small board.
  std::vector<int> factors{factor, 2 * factor};
  if (factor > 1) factors.push_back((factor + 1) / 2);
  Attempt best;
  best.certainty = -1;
  const auto count = [](const Attempt& attempt) { return attempt.corners ? attempt.corners->px.size() : 0; };
  for (const int f : factors) {
    if (std::min(luma.cols, luma.rows) / f < 32) continue;
    Attempt attempt = look_at_scale(luma, board, f);
    if (attempt.certainty > best.certainty || count(attempt) > count(best)) best = std::move(attempt);
    // a part may be larger at another scale
    if (best.certainty >= 7 || (best.corners && 10 * best.unread <= count(best))) break;
  }
  if (best.certainty < 0) return Failure{"the photo is too small"};
  if (!best.corners) return best.reason;
  return std::move(*best.corners);
}

}  // namespace jigtrue
