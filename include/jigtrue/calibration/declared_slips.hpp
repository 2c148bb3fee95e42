// Slips of a declaration that leave every residual small: centimetres typed for millimetres, a turn of the wrong sign,
// another board, a print of another scale. They show only where what follows is unlike any shop, or contradicts
// something else that was said. What a shop has is common practice, no source; the bounds are generous.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/match_marks.hpp"

#include <optional>
#include <string>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// Each function: a clause or sentences in words; empty when there is nothing to ask.

// Squares smaller than 5 mm or larger than 300.
[[nodiscard]] std::string board_question(const BoardSpec& board);

// A camera lower than 100 mm above the bed or higher than 5 m, or one that looks along the bed rather than down.
[[nodiscard]] std::string camera_question(const Camera& camera);

// A field of view beyond a fisheye's or a long telephoto's, pixels that are not square, an axis far from the picture's
// middle, beyond what the covariance leaves open. Whole sentences.
[[nodiscard]] std::vector<std::string> lens_questions(const Lens& lens, const MatrixXd& covariance);

// The lens's photos showed a board of other counts or another size.
[[nodiscard]] std::string other_board(const LensRecord& lens, const BoardSpec& board);

// The side of the bed that lies at the top of the photo, and how far the photo is turned from lying square to the bed,
// -45 to 45 degrees.
struct PhotoStand {
  PhotoTop top = PhotoTop::back;
  double turn_deg = 0.0;
};
[[nodiscard]] PhotoStand photo_stand(const Camera& camera);
[[nodiscard]] const char* to_string(PhotoTop top);

// The sign of the board's turn is in doubt: the other sign would stand the photo square to the bed, or the right way
// up, where the given one does not. One sentence.
[[nodiscard]] std::string turn_question(const Camera& camera, const BoardPlacement& placement);

// A board that would lie at negative X or Y, by more than 5 mm. One sentence.
[[nodiscard]] std::string outside_question(const std::vector<Vector3d>& board_mm);

// Nothing that was given checks how the board was laid, or how it was printed: neither the one's tolerance nor witness
// marks, three or more. What that may cost, in sentences.
[[nodiscard]] std::string unchecked_laying(const Camera& camera, const BoardPlacement& placement,
                                           std::size_t witness_marks);

// How much farther apart marks lie than they were said to: a similarity fitted to their places (rms_mm is what it
// leaves, one axis). Nothing with fewer than three marks, or when they lie together.
struct ScaleByMarks {
  double scale = 1.0;                    // nominal distances against measured ones
  double u95 = 0.0;                      // half-width, by Student's t on what the fit leaves
  double turn_deg = 0.0;                 // of the nominal places against the measured ones
  Vector2d shift_mm = Vector2d::Zero();  // of their middle
  double rms_mm = 0.0;
};
[[nodiscard]] std::optional<ScaleByMarks> scale_by_marks(const std::vector<Vector2d>& nominal_mm,
                                                         const std::vector<Vector2d>& measured_mm);
// A print whose scale the witness marks speak against, by more than 0.3 % and beyond chance. One sentence.
[[nodiscard]] std::string scale_question(const ScaleByMarks& by_marks);

// Where the board would have to lie, and how large its squares would have to be, for the marks that are seen anywhere
// in the photo to stand where they were said to, to within kWitnessSearch_mm: found by trying all pairs. Nothing with
// fewer than three marks given, or when fewer than three of them (or less than three quarters) are explained so. Of
// several ways the one that changes least. board_mm: the board's corners on the bed as declared; marks among them are
// fields of the board.
struct OtherPlacement {
  BoardPlacement placement;
  double square_ratio = 1.0;  // of the squares' size to that declared
  int marks = 0;
};
[[nodiscard]] std::optional<OtherPlacement> placement_by_marks(const cv::Mat1b& luma, const Camera& camera,
                                                               const BoardPlacement& placement,
                                                               const std::vector<Vector3d>& board_mm,
                                                               const std::vector<Vector2d>& nominal_mm);

}  // namespace jigtrue
