// The printed checkerboard, and finding it in a photo.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/image/photo.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// Counted in squares. One count is even, the other odd: then the board reads one way only.
// Board frame: mm, on the printed face, origin the outer corner of that black corner square from which, looking at the
// face, the long side runs to the right (+X) and the short side runs up (+Y); Z out of the face.
struct BoardSpec {
  int columns = 0;  // squares along X, the long side
  int rows = 0;     // squares along Y
  double square_mm = 0.0;

  [[nodiscard]] int inner_columns() const { return columns - 1; }
  [[nodiscard]] int inner_rows() const { return rows - 1; }
  [[nodiscard]] int corner_count() const { return inner_columns() * inner_rows(); }
  // Inner corner (column, row), both from 0, in the board frame: ((column + 1) * square, (row + 1) * square, 0).
  [[nodiscard]] Vector3d corner_mm(int column, int row) const {
    return {(column + 1) * square_mm, (row + 1) * square_mm, 0.0};
  }
};

// Reads "10x7x25". Throws InputError naming the option's value and the rule it breaks. A board given with its short
// side first ("7x10x25") is the same board turned: it is stored with the long side as columns.
[[nodiscard]] BoardSpec parse_board_spec(const std::string& text);

struct BoardCorners {
  BoardSpec board;
  std::vector<Vector2d>
      px;  // inner corners, row by row: index = row * inner_columns + column, in the board frame's order
  std::vector<double> sigma_px;  // standard deviation of each, from the fit of the corner itself (one axis)
  double square_px = 0.0;        // smallest spacing between neighbours
};

// Finds the whole board, turned any way round, and refines each corner on the original pixels. Fails with the reason
// when no grid of that size is in the photo or the grid found contradicts itself (order, colours of the squares,
// homography). A mirrored photo cannot be told from a turned board: along its odd count a board is its own mirror
// image.
[[nodiscard]] Outcome<BoardCorners> find_board(const cv::Mat1b& luma, const BoardSpec& board);

}  // namespace jigtrue
