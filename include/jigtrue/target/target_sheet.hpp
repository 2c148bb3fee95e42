// Sheets to print: the checkerboard, and marks to cut out.
#pragma once
#include "jigtrue/image/board.hpp"
#include "jigtrue/target/target_drawing.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// ISO 216: A4 210 x 297 mm, A3 297 x 420 mm. Letter: 8.5 x 11 inches, 215.9 x 279.4 mm.
enum class SheetSize { a4, a3, letter };
[[nodiscard]] std::optional<SheetSize> sheet_size_from_string(const std::string& name);  // "a4", "A4", ...
[[nodiscard]] const char* to_string(SheetSize size);

enum class SheetTurn { best, portrait, landscape };

struct BoardSheet {
  TargetDrawing drawing;
  Vector2d origin_mm;  // the board frame's origin on the sheet; its axes are the sheet's
};

// The board with its long side along the sheet's X, a white zone about it, a ruler along both axes that starts at the
// board's origin, and a line of instructions. Nothing is printed within 6.5 mm of the sheet's edge. Throws InputError
// when it does not fit, naming the largest square that does.
[[nodiscard]] BoardSheet board_sheet(const BoardSpec& board, SheetSize size, SheetTurn turn = SheetTurn::best);

struct MarkSheet {
  TargetDrawing drawing;
  std::vector<Vector2d> centres_mm;
};

// As many marks as the sheet holds, each with a white border one field wide and cutting lines about it. Throws
// InputError for a field that is not between 2 and 40 mm.
[[nodiscard]] MarkSheet mark_sheet(double field_mm, SheetSize size, SheetTurn turn = SheetTurn::best);

}  // namespace jigtrue
