// Which mark of a photo is which of a plan, and so where the camera stood: nothing known beforehand but the lens.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/camera/lens.hpp"
#include "jigtrue/geometry/rigid.hpp"
#include "jigtrue/image/all_marks.hpp"

#include <optional>
#include <utility>
#include <vector>

namespace jigtrue {

// The side of the plan that lies at the top of the photo: front is nearest to the operator (-Y), back away (+Y).
enum class PhotoTop { back, front, left, right };

struct MarkMatch {
  std::vector<std::pair<std::size_t, std::size_t>> pairs;  // (plan, sighted), at least four
  Rigid camera_from_plan;
  double rms_px = 0.0;
};

// Whether four of the marks can tell a pose: no three of them in a line.
[[nodiscard]] bool hold_a_pose(const std::vector<Vector3d>& plan_mm);

// plan_mm: the marks' places, Z up; field_mm: side of one of their four fields. Four marks of the plan are laid on four
// sighted ones whose sizes and sense of turning allow it, the pose follows from their homography, and is kept when it
// puts most other marks where some are (random sample consensus in the manner of Fischler & Bolles, CACM 24(6) 1981,
// but exhaustive). Marks of a regular plan may fit in several ways: then the marks' own direction decides, then `top`.
// Fails with a reason when fewer than four fit, or when the choice stays open: half a turn is never guessed.
[[nodiscard]] Outcome<MarkMatch> match_marks(const Lens& lens, const std::vector<Vector3d>& plan_mm, double field_mm,
                                             const std::vector<SightedMark>& sighted,
                                             std::optional<PhotoTop> top = std::nullopt);

}  // namespace jigtrue
