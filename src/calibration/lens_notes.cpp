#include "calibration/lens_notes.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/format.hpp"
#include "calibration/more_photos.hpp"

namespace jigtrue {

namespace {

constexpr std::size_t kManyPhotos = 8;  // of which one may be wrong without ruling the fit
// Chance alone takes eight photos to 1.4 once in a thousand times (drawn from the model of their errors).
constexpr double kContradiction = 1.5;
// A focal length known to no better than this says that the boards were all held alike: told. What is left open is
// carried along as a covariance, which is right while the map is straight over it; beyond this it states no bound.
constexpr double kWeakFocal = 0.01;
constexpr double kWorstFocal = 0.15;

}  // namespace

void add_focal_note(LensFit& result) {
  const double focal_sigma = std::sqrt(std::max(result.covariance(0, 0), result.covariance(1, 1)));
  const double focal_px = result.lens.focal_px().minCoeff();
  const std::string focal = format("the focal length open (%.0f +/- %.0f px)", result.lens.parameters[0], focal_sigma);
  if (focal_sigma > kWorstFocal * focal_px) throw input_error("lens", "the photos leave " + focal, kMorePhotos);
  if (focal_sigma > kWeakFocal * focal_px)
    result.notes.push_back("The photos leave " + focal +
                           ": what is measured carries that uncertainty. Boards tilted by 30 to 45 degrees towards "
                           "every side settle it.");
}

void add_photo_notes(LensFit& result, std::size_t used_photos) {
  if (used_photos < kManyPhotos) {
    result.notes.push_back(format("Only %zu photos were used: about 15 make the lens surer.", used_photos));
  }
  if (result.coverage < 0.6) {
    result.notes.push_back(
        format("The board covers %.0f %% of the picture only: where it never was, the lens is a guess. "
               "Add photos with the board in the empty parts.",
               100.0 * result.coverage));
  }
  if (result.corner_count > 0 && result.outlier_count > 0.03 * (result.corner_count + result.outlier_count)) {
    result.notes.push_back(format("%d of %d corners do not fit: something is wrong with the photos or the board.",
                                  result.outlier_count, result.corner_count + result.outlier_count));
  }
  if (!result.reaches_corners) {
    result.notes.push_back(
        "The lens model does not reach the picture's outermost parts: nothing can be measured there. Photos with the "
        "board "
        "in the corners mend that.");
  }
  if (result.model_error_px > 0.5) {
    result.notes.push_back(format(
        "There is no lens model here that fits this lens well: about %.1f px of error remain that are not noise.",
        result.model_error_px));
  }
}

void add_contradiction_note(LensFit& result, const std::string& most_contrary) {
  if (result.disagreement <= kContradiction) return;
  result.notes.push_back(
      format("The photos contradict each other %.1f times as much as their corners' errors explain, %s most of all: "
             "either no lens model suits this lens, or zoom, focus or the board's shape changed between them.",
             result.disagreement, most_contrary.c_str()));
}

}  // namespace jigtrue
