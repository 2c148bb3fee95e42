#include "jigtrue/calibration/witness.hpp"

#include "jigtrue/base/decompositions.hpp"

namespace jigtrue {

std::optional<MarkPrediction> predict_mark(const Camera& camera, const Vector3d& bed_mm, double search_mm,
                                           double field_mm) {
  const std::optional<BedProjection> there = project_bed_point_with_jacobian(camera, bed_mm);
  if (!there) return std::nullopt;
  const Vector2d last(camera.lens.width_px - 1.0, camera.lens.height_px - 1.0);
  if ((there->px.array() < 0.0).any() || (there->px.array() > last.array()).any()) return std::nullopt;
  MarkPrediction prediction;
  prediction.centre_px = there->px;
  prediction.px_from_mm = there->by_bed_point.leftCols<2>();
  prediction.field_mm = field_mm;
  // the longest that search_mm can become in the picture, and a pixel for the camera's own noise
  prediction.search_px = search_mm * singular_values(prediction.px_from_mm)[0] + 1.0;
  return prediction;
}

std::vector<WitnessSighting> find_witness_marks(const cv::Mat1b& luma, const Camera& camera,
                                                const std::vector<Vector2d>& nominal_mm) {
  std::vector<WitnessSighting> sightings;
  for (const Vector2d& nominal : nominal_mm) {
    WitnessSighting sighting;
    sighting.nominal_mm = nominal;
    const std::optional<MarkPrediction> prediction =
        predict_mark(camera, {nominal.x(), nominal.y(), 0.0}, kWitnessSearch_mm);
    if (!prediction) {
      sighting.mark = Failure{"it lies outside the picture"};
    } else if (const Outcome<MarkPosition> found = find_mark(luma, *prediction); !found) {
      sighting.mark = found.failure();
    } else {
      sighting.mark = WitnessMark{nominal, found->px, found->sigma_px};
    }
    sightings.push_back(std::move(sighting));
  }
  return sightings;
}

}  // namespace jigtrue
