// Measures a grid's corners on a picture, grows the grid over what else of it is in view, and drops what contradicts
// the rest.
#pragma once
#include "image/local_grid.hpp"
#include <opencv2/core/mat.hpp>

namespace jigtrue {

// How corners are looked at.
struct Look {
  double max_window_px = 6.0;
  double blur_px = 1.5;
  double settled_px = 0.02;
};

// Fits each expected corner, from its px or, where it has a contrast, from how it was fitted before; places count
// right-handed as printed (the picture's y runs down). Those that cannot be fitted are left out. Then tries the places
// next to and one beyond the corners found until no more are. Every corner that stays is one of a whole square's four,
// has the colours that its place in the checkerboard asks for, and lies where those round it put it.
[[nodiscard]] PlacedCorners measure_grid(const cv::Mat1b& luma, const PlacedCorners& expected, const Look& look);

// Places beside the grid that look like its corners and are none of them.
[[nodiscard]] std::size_t unread_places(const cv::Mat1b& luma, const PlacedCorners& corners);

// On each side of the grid's outline (least column, greatest column, least row, greatest row): the board ends there, in
// view. Its outermost squares alternate and what lies beyond them does not.
[[nodiscard]] std::array<bool, 4> ends_in_view(const cv::Mat1b& luma, const PlacedCorners& corners);

// The three by three corners of four by four squares are among them: fewer may be chance.
[[nodiscard]] bool holds_smallest_part(const PlacedCorners& corners);

struct GridBounds {
  GridPlace least, greatest;
  [[nodiscard]] int columns() const { return greatest.column - least.column + 1; }
  [[nodiscard]] int rows() const { return greatest.row - least.row + 1; }
};
[[nodiscard]] GridBounds bounds_of(const PlacedCorners& corners);

}  // namespace jigtrue
