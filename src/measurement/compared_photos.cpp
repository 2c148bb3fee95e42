#include "measurement/compared_photos.hpp"

#include <cmath>
#include <cstddef>

#include "measurement/jig_level.hpp"
#include <opencv2/imgproc.hpp>

namespace jigtrue::registration {
namespace {

constexpr double kLightReach_mm = 12.0;  // light beside a slot says so far what it is on it: a slot's own width
constexpr float kUnchanged = 0.3F;       // a pixel's weight (Tukey's) from which on it counts as unchanged

// The ratio of light beside the slots, carried on smoothly across them.
cv::Mat1f matched_light(const PlanePair& pair, double gain, const cv::Mat1f& moved_luma, const cv::Mat1f& agreeing) {
  const cv::Rect& roi = pair.roi();
  const double reach_px = kLightReach_mm * pair.px_per_mm;
  cv::Mat1f product(roi.size());
  cv::Mat1f square(roi.size());
  double mean_square = 0.0;
  double mean_product = 0.0;
  for (int r = 0; r < roi.height; ++r)
    for (int c = 0; c < roi.width; ++c) {
      const float w = agreeing(r, c);
      product(r, c) = w * pair.load[0](r, c) * moved_luma(r, c);
      square(r, c) = w * moved_luma(r, c) * moved_luma(r, c);
      mean_product += value_at(product, r, c);
      mean_square += value_at(square, r, c);
    }
  const double usual = mean_square > 0.0 ? mean_product / mean_square : gain;
  const double prior = 0.02 * mean_square / static_cast<double>(roi.area()) + 1e-3;
  const cv::Mat1f above = blurred(product, reach_px) + prior * usual;
  const cv::Mat1f below = blurred(square, reach_px) + prior;
  return above / below;
}

}  // namespace

Compared compare(const PlanePair& pair, Level& level, const Motion& motion) {
  const cv::Rect& roi = pair.roi();
  Compared compared;
  const cv::Mat1f structure = level.moved(level.empty, motion, cv::INTER_LINEAR);
  level.noise = robust_sigma(level.load - level.gain * structure, level.beside, kLeastNoise);
  level.settle_rest();
  const cv::Mat1f with_jig = level.cell_costs(structure);
  Planes& moved = compared.moved;
  for (std::size_t k = 0; k < 3; ++k) moved[k] = level.moved(pair.empty[k], motion, cv::INTER_CUBIC);
  // beside the slots, cells that go with the bed show it as it was
  cv::Mat1f agreeing = cv::Mat1f::zeros(roi.size());
  cv::Mat1f shown = structure.clone();
  for (int r = 0; r < roi.height; ++r)
    for (int c = 0; c < roi.width; ++c) {
      if (level.beside(r, c) == 0) continue;
      const int i = r / level.cell_px;
      const int j = c / level.cell_px;
      if (level.at_rest(i, j) < 0.8F * with_jig(i, j)) {
        shown(r, c) = level.empty(r, c);
        for (std::size_t k = 0; k < 3; ++k) moved[k](r, c) = pair.empty[k](r, c);
      }
      const double z = (value_at(level.load, r, c) - level.gain * value_at(shown, r, c)) / (4.0 * level.noise);
      if (std::abs(z) < 1.0) agreeing(r, c) = static_cast<float>((1.0 - z * z) * (1.0 - z * z));
    }
  compared.light = matched_light(pair, level.gain, moved[0], agreeing);
  compared.unchanged = cv::Mat1b(roi.size());
  for (int r = 0; r < roi.height; ++r)
    for (int c = 0; c < roi.width; ++c) compared.unchanged(r, c) = agreeing(r, c) > kUnchanged ? 1 : 0;
  for (std::size_t k = 0; k < 3; ++k)
    compared.noise[k] = robust_sigma(pair.load[k] - compared.light.mul(moved[k]), compared.unchanged, kLeastNoise);
  return compared;
}

}  // namespace jigtrue::registration
