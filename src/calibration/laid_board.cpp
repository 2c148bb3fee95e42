#include "jigtrue/calibration/laid_board.hpp"

#include "jigtrue/calibration/declared_slips.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "calibration/board_pose.hpp"
#include "calibration/format.hpp"

namespace jigtrue {

namespace {

// Axes turned counter-clockwise by so many quarters: the new X runs along the old Y after one.
GridPlace with_turned_axes(const GridPlace& place, int quarters) {
  switch (quarters) {
    case 1:
      return {place.row, -place.column};
    case 2:
      return {-place.column, -place.row};
    case 3:
      return {-place.row, place.column};
    default:
      return place;
  }
}

struct Extent2 {
  GridPlace low{std::numeric_limits<int>::max(), std::numeric_limits<int>::max()};
  GridPlace high{std::numeric_limits<int>::min(), std::numeric_limits<int>::min()};
  void hold(const GridPlace& place) {
    low = {std::min(low.column, place.column), std::min(low.row, place.row)};
    high = {std::max(high.column, place.column), std::max(high.row, place.row)};
  }
};

Extent2 seen_extent(const BoardCorners& corners) {
  Extent2 extent;
  for (std::size_t i = 0; i < corners.px.size(); ++i) extent.hold(corners.place(i));
  return extent;
}

// Of a whole board read another way: its outer corner is the frame's origin again.
GridPlace outer_origin(const BoardSpec& board, int quarters) {
  switch (quarters) {
    case 1:
      return {board.columns - 1, -1};
    case 2:
      return {board.columns - 1, board.rows - 1};
    case 3:
      return {-1, board.rows - 1};
    default:
      return {-1, -1};
  }
}

// Which crossing of the print's lines lies nearest to a place of the photo, the sheet being flat; nothing when the
// place is not seen on it, or lies midway.
std::optional<GridPlace> nearest_crossing(const Lens& lens, const Rigid& camera_from_board, double square_mm,
                                          const Vector2d& px) {
  const Camera camera{lens, camera_from_board, {}};
  const auto at = bed_point_at(camera, px, 0.0);
  if (!at) return std::nullopt;
  constexpr double kMidway = 0.45;  // of a square
  const Vector2d squares = at->mm / square_mm;
  const Vector2d nearest(std::round(squares.x()), std::round(squares.y()));
  if ((squares - nearest).cwiseAbs().maxCoeff() > kMidway) return std::nullopt;
  return GridPlace{static_cast<int>(nearest.x()) - 1, static_cast<int>(nearest.y()) - 1};
}

// The frame in which the sheet's corner `origin` is (0, 0) mm and the axes are turned.
BoardCorners renumbered(const BoardCorners& corners, const GridPlace& origin, int quarters) {
  BoardCorners laid = corners;
  laid.places.clear();
  for (std::size_t i = 0; i < corners.px.size(); ++i) {
    const GridPlace at = corners.place(i);
    const GridPlace turned = with_turned_axes({at.column - origin.column, at.row - origin.row}, quarters);
    laid.places.push_back({turned.column - 1, turned.row - 1});
  }
  return laid;
}

}  // namespace

Outcome<BoardCorners> lay_board(const LensRecord& lens, const BoardCorners& corners, const BoardPlacement& placement,
                                const BoardHints& hints) {
  const BoardSpec& board = corners.board;
  const int ways = corners.whole ? board.readings() : 4;
  if (ways > 1 && !hints.top)
    return Failure{
        corners.whole ? format("a board of %d x %d squares reads %d ways", board.columns, board.rows, ways) +
                            "; give --photo-top back, front, left or right: the side of the bed at the top of the photo"
                      : "only a part of the board is in view, which may lie any of four ways; give --photo-top back, "
                        "front, left or right: the side of the bed at the top of the photo"};
  if (!corners.whole && !hints.origin_px)
    return Failure{
        "only a part of the board is in view; give --origin-px PX,PY, a pixel near the printed corner whose "
        "place on the bed --board-at says"};
  if (ways == 1 && !hints.origin_px) return corners;

  std::vector<SeenPoint> points = board_points(corners);
  for (SeenPoint& point : points) point.sigma_px = 1.0;
  const Outcome<BestPose> pose = best_pose(lens.lens, points, 1e-6);
  if (!pose) return Failure{"no pose fits the board's corners: " + pose.reason()};
  const Rigid& camera_from_board = pose->best.camera_from_body;

  int quarters = 0;
  if (ways > 1) {
    bool found = false;
    std::string tops;
    for (quarters = 0; quarters < 4; quarters += 4 / ways) {
      const Rigid turned{camera_from_board.rotation * rotation_from_vector({0.0, 0.0, 0.5 * kPi * quarters}),
                         camera_from_board.translation};
      const Camera camera{lens.lens, turned * bed_from_board(placement).inverse(), {}};
      const PhotoTop top = photo_stand(camera).top;
      found = top == *hints.top;
      if (found) break;
      tops += std::string(tops.empty() ? "" : " or ") + to_string(top);
    }
    if (!found)
      return Failure{
          format("with --board-at's turn of %g degrees the top of the photo shows the bed's ", placement.angle_deg) +
          tops + ", not its " + to_string(*hints.top) +
          ", whichever way the board reads; give the turn of its long side, counter-clockwise from above"};
  }
  GridPlace origin = corners.whole ? outer_origin(board, quarters) : GridPlace{};
  if (hints.origin_px) {
    const auto near = nearest_crossing(lens.lens, camera_from_board, board.square_mm, *hints.origin_px);
    const Extent2 seen = seen_extent(corners);
    const bool on_board = near && near->column >= seen.low.column - 1 && near->column <= seen.high.column + 1 &&
                          near->row >= seen.low.row - 1 && near->row <= seen.high.row + 1;
    if (!on_board)
      return Failure{
          format("no printed corner lies near --origin-px %.6g,%.6g", hints.origin_px->x(), hints.origin_px->y()) +
          "; give a pixel close to one"};
    origin = *near;
  }
  return renumbered(corners, origin, quarters);
}

}  // namespace jigtrue
