#include "jigtrue/calibration/declared_slips.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "calibration/format.hpp"

namespace jigtrue {

namespace {

constexpr double kSmallestSquare_mm = 5.0;    // smaller ones were meant in centimetres
constexpr double kLargestSquare_mm = 300.0;   // larger ones were meant in tenths of a millimetre
constexpr double kLowestCamera_mm = 100.0;    // over a bed
constexpr double kHighestCamera_mm = 5000.0;  // under any ceiling
constexpr double kSteepest_deg = 75.0;        // between the optical axis and straight down

// Lenses by the focal length that has the same field on a 36 x 24 mm picture: fisheyes from 8 mm, telephotos to 400.
constexpr double kPictureDiagonal_mm = 43.27;
constexpr double kShortest_mm = 7.0;
constexpr double kLongest_mm = 500.0;
constexpr double kSquarePixels = 0.02;
constexpr double kOffMiddle = 0.12;        // of the picture's width or height
constexpr double kOpenSigmas = 3.0;        // of a height that nothing else holds: any is possible within these
constexpr std::size_t kMarksThatTell = 3;  // of the print's scale

double sigma_of(const MatrixXd& covariance, Eigen::Index i) {
  return i < covariance.rows() ? std::sqrt(std::max(covariance(i, i), 0.0)) : 0.0;
}

double from_square(double deg) { return deg - 90.0 * std::round(deg / 90.0); }

// The direction on the bed that is up in the photo, degrees from +X.
double up_on_bed_deg(const Camera& camera) {
  const Eigen::RowVector3d down = camera.camera_from_bed.rotation.row(1);
  return deg_from_rad(std::atan2(-down.y(), -down.x()));
}

PhotoStand stand_at(double up_deg) {
  constexpr std::array<PhotoTop, 4> kSides = {PhotoTop::right, PhotoTop::back, PhotoTop::left, PhotoTop::front};
  const auto quarter = static_cast<int>(std::lround(up_deg / 90.0));
  return {kSides[static_cast<std::size_t>((quarter % 4 + 4) % 4)], from_square(up_deg)};
}

// Two-sided 95 % points of Student's t, at 2, 4, 6, ... degrees of freedom.
double student_95(std::size_t freedom) {
  constexpr std::array<double, 6> kPoints = {4.303, 2.776, 2.447, 2.306, 2.228, 2.179};
  return kPoints[std::min(freedom / 2 - 1, kPoints.size() - 1)];
}

}  // namespace

std::string board_question(const BoardSpec& board) {
  if (board.square_mm < kSmallestSquare_mm)
    return format(
        "its squares would be %g mm large, the whole board %g x %g mm: millimetres are meant, not "
        "centimetres or inches",
        board.square_mm, board.columns * board.square_mm, board.rows * board.square_mm);
  if (board.square_mm > kLargestSquare_mm)
    return format("its squares would be %g mm large, the whole board %g x %g m", board.square_mm,
                  board.columns * board.square_mm / 1000.0, board.rows * board.square_mm / 1000.0);
  return {};
}

std::string camera_question(const Camera& camera) {
  const double height_mm = camera.centre_mm().z();
  if (height_mm < kLowestCamera_mm || height_mm > kHighestCamera_mm)
    return format(
        "the camera would stand %.0f mm above the bed: are --board's squares and --board-height given in "
        "millimetres?",
        height_mm);
  const double lean_deg = deg_from_rad(std::acos(std::clamp(-camera.camera_from_bed.rotation(2, 2), -1.0, 1.0)));
  if (lean_deg > kSteepest_deg)
    return format(
        "the camera would look along the bed, %.0f degrees from straight down: does the board lie flat on it?",
        lean_deg);
  return {};
}

std::vector<std::string> lens_questions(const Lens& lens, const MatrixXd& covariance) {
  std::vector<std::string> questions;
  const Vector2d size(lens.width_px, lens.height_px);
  const Vector2d focal = lens.focal_px();
  const double sigma = sigma_of(covariance, 0);
  const double as_mm = kPictureDiagonal_mm / size.norm();
  if ((focal.x() + kOpenSigmas * sigma) * as_mm < kShortest_mm ||
      (focal.x() - kOpenSigmas * sigma) * as_mm > kLongest_mm)
    questions.push_back(
        format("This would be a lens of %.0f mm, as seen on a 36 x 24 mm picture; no camera over a bed has one: are "
               "the board's "
               "counts right, and are all photos by one camera at one zoom?",
               focal.x() * as_mm));
  const double unlike = focal.y() / focal.x() - 1.0;
  const double unlike_sigma = std::hypot(sigma, sigma_of(covariance, 1)) / focal.x();
  if (std::abs(unlike) > kSquarePixels + kOpenSigmas * unlike_sigma)
    questions.push_back(
        format("Its pixels would be %.1f %% %s than wide: were the photos resized unevenly, or are the print's "
               "squares not square?",
               100.0 * std::abs(unlike), unlike > 0.0 ? "less high" : "higher"));
  const Vector2d off = lens.principal_px() - 0.5 * (size - Vector2d::Ones());
  for (const Eigen::Index axis : {0, 1})
    if (std::abs(off[axis]) > kOffMiddle * size[axis] + kOpenSigmas * sigma_of(covariance, 2 + axis)) {
      questions.push_back(format(
          "Its axis would lie %.0f px from the picture's middle: were the photos cropped, or made in a mode that "
          "crops (steadying, portrait, digital zoom)?",
          off.norm()));
      break;
    }
  return questions;
}

std::string other_board(const LensRecord& lens, const BoardSpec& board) {
  const BoardSpec& known = lens.board;
  if (known.columns == 0) return {};  // a file of before boards were kept
  const bool same_counts = known.columns == board.columns && known.rows == board.rows;
  const bool same_size = std::abs(known.square_mm - board.square_mm) <= 1e-6 * board.square_mm;
  if (same_counts && same_size) return {};
  return format("the lens's photos showed a board of %dx%dx%g", known.columns, known.rows, known.square_mm) +
         (same_counts ? ": one print has one size" : "");
}

std::string unchecked_laying(const Camera& camera, const BoardPlacement& placement, std::size_t witness_marks) {
  const bool laid = placement.xy_sigma_mm > 0.0;
  const bool printed = placement.scale_sigma > 0.0;
  if (witness_marks >= kMarksThatTell || (laid && printed)) return {};
  double far_mm = 0.0;
  for (const double x : {0.0, camera.lens.width_px - 1.0})
    for (const double y : {0.0, camera.lens.height_px - 1.0})
      if (const auto bed = bed_point_at(camera, {x, y}, 0.0))
        far_mm = std::max(far_mm, (bed->mm - Vector2d(placement.x_mm, placement.y_mm)).norm());
  std::string text = std::string("Nothing here checks how the board was ") +
                     (laid      ? "printed"
                      : printed ? "laid"
                                : "laid and printed") +
                     ", and no stated uncertainty holds it: ";
  if (!laid) text += "0.5 mm of laying moves everything by as much" + std::string(printed ? ". " : ", ");
  if (!printed)
    text += format(
        "squares 2 %% larger, as printers make them that fit a page, move the picture's far corner by %.1f mm. Measure "
        "the print over many squares. ",
        0.02 * far_mm);
  return text + "State " + (laid ? "" : "--laid-within") + (laid || printed ? "" : " and ") +
         (printed ? "" : "--print-within") + ", or stick three --witness marks or more to the bed.";
}

PhotoStand photo_stand(const Camera& camera) { return stand_at(up_on_bed_deg(camera)); }

const char* to_string(PhotoTop top) {
  switch (top) {
    case PhotoTop::front:
      return "front";
    case PhotoTop::left:
      return "left";
    case PhotoTop::right:
      return "right";
    case PhotoTop::back:
      break;
  }
  return "back";
}

std::string turn_question(const Camera& camera, const BoardPlacement& placement) {
  constexpr double kUnsquare_deg = 6.0;     // as they are not, but for a phone held by hand
  constexpr double kRightWayUp_deg = 10.0;  // closer than that the photo's top is a side of the bed
  const double up_deg = up_on_bed_deg(camera);
  const PhotoStand given = stand_at(up_deg);
  const PhotoStand other = stand_at(up_deg - 2.0 * placement.angle_deg);
  const bool squarer =
      std::abs(given.turn_deg) > kUnsquare_deg && std::abs(other.turn_deg) < 0.5 * std::abs(given.turn_deg);
  const bool righted =
      given.top != PhotoTop::back && other.top == PhotoTop::back && std::abs(other.turn_deg) < kRightWayUp_deg;
  if (!squarer && !righted) return {};
  const auto words = [](const PhotoStand& stand) {
    return format("%s at its top, turned by %.0f degrees", to_string(stand.top), std::abs(stand.turn_deg));
  };
  return format("With the board turned by %g degrees the photo shows the bed's ", placement.angle_deg) + words(given) +
         format("; with %g it would show the ", -placement.angle_deg) + words(other) +
         ". Is the sign right (counter-clockwise seen from above)? --photo-top settles it.";
}

std::string outside_question(const std::vector<Vector3d>& board_mm) {
  constexpr double kOverhang_mm = 5.0;  // a sheet may stand over the bed's edge a little
  Vector2d low = Vector2d::Zero();
  for (const Vector3d& p : board_mm) low = low.cwiseMin(p.head<2>());
  if (low.minCoeff() > -kOverhang_mm) return {};
  return format(
      "The board would reach X %.0f, Y %.0f: outside a bed whose zero is its front left corner. If yours has "
      "it there, check --board-at: X, Y and the turn's sign.",
      low.x(), low.y());
}

std::optional<ScaleByMarks> scale_by_marks(const std::vector<Vector2d>& nominal_mm,
                                           const std::vector<Vector2d>& measured_mm) {
  const std::size_t count = nominal_mm.size();
  if (count < kMarksThatTell) return std::nullopt;
  Vector2d from = Vector2d::Zero();
  Vector2d to = Vector2d::Zero();
  for (std::size_t i = 0; i < count; ++i) {
    from += measured_mm[i] / static_cast<double>(count);
    to += nominal_mm[i] / static_cast<double>(count);
  }
  // nominal = scale * turn * measured + shift, linear in (a, b) = scale * (cos, sin)
  double spread = 0.0;
  double a = 0.0;
  double b = 0.0;
  for (std::size_t i = 0; i < count; ++i) {
    const Vector2d m = measured_mm[i] - from;
    const Vector2d n = nominal_mm[i] - to;
    spread += m.squaredNorm();
    a += m.dot(n);
    b += m.x() * n.y() - m.y() * n.x();
  }
  if (!(spread > 1.0)) return std::nullopt;
  a /= spread;
  b /= spread;
  double left = 0.0;
  for (std::size_t i = 0; i < count; ++i) {
    const Vector2d m = measured_mm[i] - from;
    left += (nominal_mm[i] - to - Vector2d(a * m.x() - b * m.y(), b * m.x() + a * m.y())).squaredNorm();
  }
  const std::size_t freedom = 2 * count - 4;
  ScaleByMarks result;
  result.scale = std::hypot(a, b);
  result.turn_deg = deg_from_rad(std::atan2(b, a));
  result.shift_mm = to - from;
  result.rms_mm = std::sqrt(left / static_cast<double>(freedom));
  result.u95 = student_95(freedom) * result.rms_mm / std::sqrt(spread);
  return result;
}

std::string scale_question(const ScaleByMarks& by_marks) {
  constexpr double kHarmless = 0.003;  // of the size: a tenth of a millimetre at 30
  const double off = by_marks.scale - 1.0;
  if (!(std::abs(off) > kHarmless && std::abs(off) > 2.0 * by_marks.u95)) return {};
  return format(
      "The witness marks lie %.1f %% (+/- %.1f) %s together than the places given for them, as if the squares "
      "were %.1f %% %s than --board says: measure the print over many squares.",
      100.0 * std::abs(off), 100.0 * by_marks.u95, off > 0.0 ? "closer" : "less close", 100.0 * std::abs(off),
      off > 0.0 ? "larger" : "smaller");
}

}  // namespace jigtrue
