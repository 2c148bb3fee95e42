#include "measurement/jig_level.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include <opencv2/imgproc.hpp>

namespace jigtrue::registration {
namespace {

constexpr double kStructure_mm = 1.5;   // coarser than this is light and shade, finer is structure
constexpr double kEitherCell_mm = 5.0;  // goes with the jig or with the bed as a whole
constexpr int kNodes_px = 16;           // motions are projected so far apart, and interpolated between

// How a place seen at each pixel moves in the small picture with the jig.
void add_motions(const PlanePair& pair, const Camera& camera, const Fixture& fixture, double height_mm, Level& level) {
  const cv::Rect& roi = pair.roi();
  const cv::Size nodes(roi.width / kNodes_px + 2, roi.height / kNodes_px + 2);
  std::array<cv::Mat1f, 3> x;
  std::array<cv::Mat1f, 3> y;
  for (std::size_t k = 0; k < 3; ++k) {
    x[k] = cv::Mat1f::zeros(nodes);
    y[k] = cv::Mat1f::zeros(nodes);
  }
  const Vector2d centre = common_centre_mm(fixture);
  const double s = pair.pixels.shrink;
  for (int r = 0; r < nodes.height; ++r)
    for (int c = 0; c < nodes.width; ++c) {
      const Vector2d px((c * kNodes_px + roi.x + 0.5) * s - 0.5, (r * kNodes_px + roi.y + 0.5) * s - 0.5);
      const auto bed = bed_point_at(camera, px, height_mm);
      if (!bed) continue;
      const auto seen = project_bed_point_with_jacobian(camera, {bed->mm.x(), bed->mm.y(), height_mm});
      if (!seen) continue;
      const Vector2d arm = bed->mm - centre;
      const Matrix2d by_shift = seen->by_bed_point.leftCols<2>() / s;
      const Vector2d by_turn = by_shift * Vector2d(-arm.y(), arm.x());
      x[0](r, c) = static_cast<float>(by_shift(0, 0));
      x[1](r, c) = static_cast<float>(by_shift(0, 1));
      x[2](r, c) = static_cast<float>(by_turn.x());
      y[0](r, c) = static_cast<float>(by_shift(1, 0));
      y[1](r, c) = static_cast<float>(by_shift(1, 1));
      y[2](r, c) = static_cast<float>(by_turn.y());
    }
  cv::Mat1f at_x(roi.size());
  cv::Mat1f at_y(roi.size());
  for (int r = 0; r < roi.height; ++r)
    for (int c = 0; c < roi.width; ++c) {
      at_x(r, c) = static_cast<float>(c) / kNodes_px;
      at_y(r, c) = static_cast<float>(r) / kNodes_px;
    }
  for (std::size_t k = 0; k < 3; ++k) {
    cv::remap(x[k], level.by_x[k], at_x, at_y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
    cv::remap(y[k], level.by_y[k], at_x, at_y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  }
}

double first_gain(const PlanePair& pair, const cv::Mat1b& beside) {
  std::vector<double> load;
  std::vector<double> empty;
  for (int r = 0; r < pair.roi().height; r += 3)
    for (int c = 0; c < pair.roi().width; c += 3) {
      if (beside(r, c) == 0) continue;
      load.push_back(static_cast<double>(pair.load[0](r, c)));
      empty.push_back(static_cast<double>(pair.empty[0](r, c)));
    }
  return std::clamp((median(load).value_or(1.0) + 1.0) / (median(empty).value_or(1.0) + 1.0), 0.3, 3.0);
}

}  // namespace

Level jig_level(const PlanePair& pair, const SlotRegions& regions, const Camera& camera, const Fixture& fixture) {
  constexpr double kSoften_px = 0.7;  // so that places between pixels look like those upon them
  Level level;
  const auto structure = [&](const cv::Mat1f& plane) {
    return cv::Mat1f(blurred(plane, kSoften_px) - blurred(plane, kStructure_mm * pair.px_per_mm));
  };
  level.load = structure(pair.load[0]);
  level.empty = structure(pair.empty[0]);
  add_motions(pair, camera, fixture, regions.height_mm, level);
  level.beside = filled({regions.around}, pair.pixels);
  level.beside.setTo(0, filled(regions.slots, pair.pixels));
  level.of_jig = filled({regions.among}, pair.pixels);
  level.cell_px = std::max(static_cast<int>(std::lround(kEitherCell_mm * pair.px_per_mm)), 2);
  level.gain = first_gain(pair, level.beside);
  level.noise = robust_sigma(level.load - level.gain * level.empty, level.beside, kLeastNoise);
  return level;
}

}  // namespace jigtrue::registration
