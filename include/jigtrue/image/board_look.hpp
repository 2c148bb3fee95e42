// How a photo shows the board that was found in it: light, sharpness, reflections.
#pragma once
#include "jigtrue/image/board.hpp"

#include <optional>

namespace jigtrue {

// Grey levels 0 to 255, medians over the board's fields.
struct BoardLook {
  double white = 0.0;
  double black = 0.0;
  double edge_px = 0.0;                       // from 10 to 90 % of the step between two fields, median over their edges
  double field_px = 0.0;                      // a field's side, median
  int fields = 0;                             // looked at
  int washed_out = 0;                         // over which a lamp's reflection lies
  Vector2d washed_out_px = Vector2d::Zero();  // their middle in the picture
};

// Nothing when fewer than four fields have all their corners.
[[nodiscard]] std::optional<BoardLook> look_at_board(const cv::Mat1b& luma, const BoardCorners& corners);

// The level that a tenth of the picture exceeds: a photo in which no board was found may simply be dark.
[[nodiscard]] double bright_level(const cv::Mat1b& luma);

}  // namespace jigtrue
