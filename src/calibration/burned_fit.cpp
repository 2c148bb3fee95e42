#include "jigtrue/calibration/burned_fit.hpp"

#include "jigtrue/base/least_squares.hpp"
#include "jigtrue/base/products.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/burned_equations.hpp"
#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestBurned = 5;  // ten numbers for eight unknowns

}  // namespace

bool BurnedFit::significant() const {
  return std::abs(scale_x_less_y) > 2.0 * std::sqrt(covariance(0, 0)) ||
         std::abs(squareness_rad) > 2.0 * std::sqrt(covariance(1, 1));
}

Outcome<BurnedFit> fit_burned_marks(const LensRecord& lens, const std::vector<PlacedMark>& marks, const Rigid& start,
                                    double place_sigma_mm) {
  if (marks.size() < kFewestBurned) return Failure{"at least five marks are needed"};
  const std::vector<PlacedMark> weighted = with_place_sigma(lens.lens, marks, start, place_sigma_mm);
  BurnedState state{start, 0.0, 0.0};
  const auto linearise = [&](const BurnedState& at) -> std::optional<ArrowSystem> {
    const auto list = burned_equations(lens.lens, weighted, at);
    if (!list) return std::nullopt;
    ArrowSystem system(kBurnedUnknowns, 0, 0);
    system.add_shared(list->residuals, list->by_state);
    system.cost = list->residuals.squaredNorm();
    return system;
  };
  const auto move = [](const BurnedState& at, const ArrowStep& step) { return moved(at, step.shared); };
  minimise(state, linearise, move);
  const auto list = burned_equations(lens.lens, weighted, state);
  if (!list) return Failure{"the marks leave the lens's field"};
  const auto inverse = inverse_spd(transpose_times(list->by_state, list->by_state));
  if (!inverse) return Failure{"the marks do not determine the camera's place"};

  BurnedFit fit;
  fit.middle_mm = middle_of(marks).head<2>();
  fit.scale_x_less_y = state.scale_x_less_y;
  fit.squareness_rad = state.squareness_rad;
  fit.pose.camera.lens = lens.lens;
  set_pose(fit.pose, weighted, *list, state);
  if (!(fit.pose.camera.centre_mm().z() > 0.0)) return Failure{"the camera would stand below the bed"};
  const double freedom = 2.0 * static_cast<double>(marks.size()) + 2.0 - static_cast<double>(kBurnedUnknowns);
  const double sigma0 = std::max(1.0, std::sqrt(list->residuals.squaredNorm() / freedom));
  fit.pose.sigma0_px = sigma0 * weighted.front().sigma_px;

  const Eigen::Index n = lens.lens.parameters.size();
  const MatrixXd by_lens = -times(*inverse, transpose_times(list->by_state, list->by_lens));
  const MatrixXd own = sigma0 * sigma0 * (*inverse) + propagated(by_lens, lens.covariance);
  MatrixXd joint(n + 6, n + 6);
  joint.topLeftCorner(n, n) = lens.covariance;
  joint.bottomLeftCorner(6, n) = times(by_lens.topRows(6), lens.covariance);
  joint.topRightCorner(n, 6) = joint.bottomLeftCorner(6, n).transpose();
  joint.bottomRightCorner(6, 6) = own.topLeftCorner(6, 6);
  fit.pose.camera.covariance = 0.5 * (joint + joint.transpose());
  // what the lens model misses the lens by, one axis
  const double model = lens.model_error_px / std::sqrt(2.0) / weighted.front().sigma_px;
  fit.covariance = own.bottomRightCorner<2, 2>() + model * model * inverse->bottomRightCorner<2, 2>();
  return fit;
}

}  // namespace jigtrue
