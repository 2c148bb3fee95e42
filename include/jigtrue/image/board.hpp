// The printed checkerboard, and finding it in a photo.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/image/photo.hpp"

#include <compare>
#include <string>
#include <vector>

namespace jigtrue {

// Counted in squares.
// Board frame: mm, on the printed face, origin the outer corner of that black corner square from which, looking at the
// face, the long side runs to the right (+X) and the short side runs up (+Y); Z out of the face.
struct BoardSpec {
  int columns = 0;  // squares along X, the long side
  int rows = 0;     // squares along Y
  double square_mm = 0.0;

  [[nodiscard]] int inner_columns() const { return columns - 1; }
  [[nodiscard]] int inner_rows() const { return rows - 1; }
  // How many ways it reads when the whole of it is seen: 1 where one count is even and the other odd, else turned by
  // 180 degrees it looks the same (2), and with equal odd counts by 90 degrees too (4).
  [[nodiscard]] int readings() const {
    if ((columns + rows) % 2 != 0) return 1;
    return columns == rows && columns % 2 != 0 ? 4 : 2;
  }
  [[nodiscard]] int corner_count() const { return inner_columns() * inner_rows(); }
  // Inner corner (column, row), both from 0, in the board frame: ((column + 1) * square, (row + 1) * square, 0).
  [[nodiscard]] Vector3d corner_mm(int column, int row) const {
    return {(column + 1) * square_mm, (row + 1) * square_mm, 0.0};
  }
};

// Reads "10x7x25". Throws InputError naming the option's value and the rule it breaks. A board given with its short
// side first ("7x10x25") is the same board turned: it is stored with the long side as columns.
[[nodiscard]] BoardSpec parse_board_spec(const std::string& text);

// Which inner corner: (0, 0) is the one next to the frame's origin.
struct GridPlace {
  int column = 0;
  int row = 0;
  friend auto operator<=>(const GridPlace&, const GridPlace&) = default;  // NOLINT(modernize-use-nullptr)
};

// The corners of a board, or of the part of it that is in view.
struct BoardCorners {
  BoardSpec board;
  std::vector<Vector2d> px;
  std::vector<double> sigma_px;  // standard deviation of each, from the fit of the corner itself (one axis)
  double square_px = 0.0;        // smallest spacing between neighbours
  // Whose corner each is. Empty: every inner corner is there, row by row, columns running first.
  std::vector<GridPlace> places = {};
  // True: the corners' outline is the whole board's, and the places are those of the board frame; of a board that
  // reads several ways (BoardSpec::readings) of one of them. Single corners may still be missing.
  // False: a part. Its places count from a corner of its own (any integers), in a frame turned by some multiple of 90
  // degrees, Z out of the face; where column + row is even the square to the lower left of the corner is black.
  bool whole = true;

  [[nodiscard]] GridPlace place(std::size_t corner) const {
    if (!places.empty()) return places[corner];
    const int index = static_cast<int>(corner);
    return {index % board.inner_columns(), index / board.inner_columns()};
  }
  [[nodiscard]] Vector3d corner_mm(std::size_t corner) const {
    return board.corner_mm(place(corner).column, place(corner).row);
  }
};

// Finds the board, turned any way round, or the largest connected part of it, and refines each corner at the picture's
// own blur. A corner that is hidden or cannot be measured is left out. Fails with the reason when fewer than nine
// corners (4 x 4 squares) remain, when the board is seen to have other counts (larger than declared, or ending in view
// on all sides), or when several whole boards are in the photo. A mirrored photo cannot be told from a turned board.
[[nodiscard]] Outcome<BoardCorners> find_board(const cv::Mat1b& luma, const BoardSpec& board);

}  // namespace jigtrue
