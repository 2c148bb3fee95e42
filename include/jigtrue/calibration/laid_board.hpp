// Which way a board lies on the bed when its print alone does not tell: it reads several ways, or only a part is seen.
#pragma once
#include "jigtrue/calibration/lens_file.hpp"
#include "jigtrue/calibration/match_marks.hpp"
#include "jigtrue/calibration/pose_fit.hpp"
#include "jigtrue/image/board.hpp"

#include <optional>

namespace jigtrue {

struct BoardHints {
  std::optional<PhotoTop> top;        // side of the bed at the top of the photo
  std::optional<Vector2d> origin_px;  // near the printed corner that the placement's X, Y speak of
};

// The corners with places in the frame that `placement` speaks of: of the ways that the board reads (four for a part),
// the one that puts `top` at the top of the photo; its origin the printed corner nearest to origin_px where that is
// given, else the board's own. Fails with a reason that names the option: top is missing or contradicts every way,
// origin_px is missing for a part, or lies midway between corners or off the board.
[[nodiscard]] Outcome<BoardCorners> lay_board(const LensRecord& lens, const BoardCorners& corners,
                                              const BoardPlacement& placement, const BoardHints& hints);

}  // namespace jigtrue
