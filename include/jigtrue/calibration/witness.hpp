// Marks stuck to the bed for good: where to look for them, and finding them.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/image/mark.hpp"

#include <vector>

namespace jigtrue {

// Where a mark that lies flat at bed_mm (its height included) is expected, with the map's local scale there, and how
// far around to look. Nothing when it lies outside the picture or where the lens does not reach.
[[nodiscard]] std::optional<MarkPrediction> predict_mark(const Camera& camera, const Vector3d& bed_mm, double search_mm,
                                                         double field_mm = 8.0);

// Witness marks are given to within this.
inline constexpr double kWitnessSearch_mm = 3.0;

struct WitnessSighting {
  Vector2d nominal_mm = Vector2d::Zero();
  Outcome<WitnessMark> mark = Failure{"not looked for"};
};
[[nodiscard]] std::vector<WitnessSighting> find_witness_marks(const cv::Mat1b& luma, const Camera& camera,
                                                              const std::vector<Vector2d>& nominal_mm);

}  // namespace jigtrue
