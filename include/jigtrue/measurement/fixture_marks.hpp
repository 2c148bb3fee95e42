// Where the fixture stands on the bed, by its own marks.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/mark.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// A mark of the fixture found in the photo.
struct SeenFixtureMark {
  std::size_t index = 0;  // in Fixture::marks_mm
  MarkPosition mark;
};

struct MarkedPlacement {
  FixturePlacement placement;  // from = "marks"
  std::vector<SeenFixtureMark> used;
  std::vector<std::string> notes;  // whole sentences: marks not seen, or not where the fixture has them
};

// Shift of the slots' common centre and the turn about it, by weighted least squares over the marks. A mark that
// contradicts the others is left out and named. Fails with fewer than two marks that agree.
//
// Looks for each mark within `kMarkSearch_mm` of its nominal place, then, when those give no agreeing pair, farther.
[[nodiscard]] Outcome<MarkedPlacement> place_fixture_by_marks(const cv::Mat1b& luma, const Camera& camera,
                                                              const Fixture& fixture, double lens_error_px);
inline constexpr double kMarkSearch_mm = 6.0;  // as far as a jig put down by hand lies off: common practice, no source

// The placement of marks already found.
[[nodiscard]] Outcome<MarkedPlacement> fit_fixture_to_marks(const Camera& camera, const Fixture& fixture,
                                                            const std::vector<SeenFixtureMark>& seen,
                                                            double lens_error_px);

// A place of the fixture (nominal coordinates) on the bed, once the fixture stands as `placement` says.
[[nodiscard]] Vector2d placed_mm(const FixturePlacement& placement, const Vector2d& common_centre_mm,
                                 const Vector2d& nominal_mm);

}  // namespace jigtrue
