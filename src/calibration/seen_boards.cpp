#include "calibration/seen_boards.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/board_pose.hpp"
#include "calibration/board_shape.hpp"

namespace jigtrue {

namespace {

double cost(const SeenBoards& seen) {
  double sum = 0.0;
  for (const ViewPose& pose : seen.alone)
    for (const Vector2d& r : pose.residuals_px) sum += r.squaredNorm();
  return sum;
}

// shape: of the sheet; nullptr: flat and square.
Outcome<SeenBoards> boards_in_shape(const LensRecord& lens, const std::vector<FlatBoardPhoto>& photos,
                                    const bundle::BoardShape* shape) {
  SeenBoards seen;
  for (const FlatBoardPhoto& photo : photos) {
    BoardPoints board{board_points(photo.corners), {}};
    if (shape != nullptr) {
      const bool bowed = shape->bow_x_mm != 0.0 || shape->bow_y_mm != 0.0;
      for (const SeenPoint& p : board.seen) {
        board.by_shape.push_back(bundle::by_shape(board.seen, p.mm));
        if (!bowed) board.by_shape.back().rightCols<2>().setZero();
      }
      board.seen = in_shape(board.seen, *shape);
    }
    const Outcome<ViewPose> pose = board_pose(lens, board.seen, photo.corners.board, photo.width_px, photo.height_px);
    if (!pose) return Failure{photo.file.empty() ? pose.reason() : photo.file + ": " + pose.reason()};
    seen.alone.push_back(*pose);
    seen.boards.push_back(std::move(board));
  }
  return seen;
}

bool same_sheet(const LensRecord& lens, const BoardSpec& board) {
  return lens.board_shape && lens.board.columns == board.columns && lens.board.rows == board.rows &&
         std::abs(lens.board.square_mm - board.square_mm) <= 1e-9 * board.square_mm;
}

}  // namespace

Outcome<SeenBoards> seen_boards(const LensRecord& lens, const std::vector<FlatBoardPhoto>& photos) {
  // of a part nobody knows where on the sheet it lies
  const bool all_whole =
      std::all_of(photos.begin(), photos.end(), [](const FlatBoardPhoto& photo) { return photo.corners.whole; });
  if (!all_whole || !same_sheet(lens, photos.front().corners.board)) return boards_in_shape(lens, photos, nullptr);
  const BoardShapeFit& known = *lens.board_shape;
  const bundle::BoardShape bowed{known.stretch, known.bow_x_mm, known.bow_y_mm};
  const bundle::BoardShape laid_flat{known.stretch, 0.0, 0.0};
  Outcome<SeenBoards> as_flat = boards_in_shape(lens, photos, &laid_flat);
  Outcome<SeenBoards> as_bowed = boards_in_shape(lens, photos, &bowed);
  if (as_flat)
    as_flat->note = "the sheet's print is taken with the two scales that the lens's photos showed, and as flat";
  if (as_bowed) as_bowed->note = "the sheet is taken as bowed and printed as the lens's photos showed it";
  if (!as_flat || !as_bowed) return as_bowed ? as_bowed : as_flat;
  return cost(*as_bowed) < cost(*as_flat) ? as_bowed : as_flat;
}

MatrixXd known_covariance(const LensRecord& lens, bool shaped) {
  if (!shaped) return lens.covariance;
  const Eigen::Index n = lens.covariance.rows();
  MatrixXd all(n + 3, n + 3);
  all << lens.covariance, lens.board_shape->with_lens.transpose(), lens.board_shape->with_lens,
      lens.board_shape->covariance;
  return all;
}

}  // namespace jigtrue
