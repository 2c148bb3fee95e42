#include "inspection/mark_parts.hpp"

#include <array>
#include <cmath>
#include <cstddef>

#include <Eigen/Dense>
#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

// What moves each part along u and along v, and how the whole mark's place moves them.
struct PartSlopes {
  std::vector<cv::Mat1f> by_part;  // u and v of the first part, of the second, ...
  MatrixXd by_place;               // the same order; u, v, turn of the whole
};

PartSlopes slopes_of_parts(const Unrolled& on, const cv::Mat1f& pattern, const MarkPose& pose,
                           const std::vector<double>& bounds) {
  const std::array<cv::Mat1f, 2> whole = shift_slopes(pattern, on.pitch_mm);
  const double c = std::cos(pose.turn_rad);
  const double s = std::sin(pose.turn_rad);
  PartSlopes out;
  out.by_place = MatrixXd::Zero(2 * (static_cast<Eigen::Index>(bounds.size()) - 1), 3);
  for (std::size_t part = 0; part + 1 < bounds.size(); ++part) {
    std::array<cv::Mat1f, 2> own = {cv::Mat1f::zeros(pattern.size()), cv::Mat1f::zeros(pattern.size())};
    Vector2d arm = Vector2d::Zero();
    double edges = 0.0;
    for (int row = 0; row < pattern.rows; ++row)
      for (int column = 0; column < pattern.cols; ++column) {
        const Vector2d d = on.uv(column, row) - pose.uv_mm;
        const double along = c * d.x() + s * d.y();
        if (along < bounds[part] || along >= bounds[part + 1]) continue;
        for (std::size_t axis = 0; axis < 2; ++axis) own[axis](row, column) = whole[axis](row, column);
        const auto edge = static_cast<double>(std::abs(whole[0](row, column)) + std::abs(whole[1](row, column)));
        arm += edge * d;
        edges += edge;
      }
    if (edges > 0.0) arm /= edges;
    const auto at = 2 * static_cast<Eigen::Index>(part);
    out.by_place.row(at) << 1.0, 0.0, -arm.y();
    out.by_place.row(at + 1) << 0.0, 1.0, arm.x();
    out.by_part.push_back(own[0]);
    out.by_part.push_back(own[1]);
  }
  return out;
}

// Where the parts lie beside where the whole has them, and what the texture does to that.
struct PartsOff {
  VectorXd off_mm;
  MatrixXd covariance;
};

// A part that has hardly an edge across one way, such as a line's middle along it, tells nothing of that way; what
// little of its slopes there is answers to whatever the drawing leaves over elsewhere.
void leave_out_untold(double farthest_mm, PartsOff& parts) {
  constexpr double kTold = 0.25;       // of how far a part may lie off
  constexpr double kUntold_mm = 10.0;  // a sigma that leaves a part without a say
  for (Eigen::Index i = 0; i < parts.off_mm.size(); ++i) {
    if (std::sqrt(parts.covariance(i, i)) < kTold * farthest_mm) continue;
    parts.off_mm[i] = 0.0;
    parts.covariance.row(i).setZero();
    parts.covariance.col(i).setZero();
    parts.covariance(i, i) = kUntold_mm * kUntold_mm;
  }
}

PartsOff parts_off(const Unrolled& on, const Texture& texture, const cv::Mat1f& pattern, const PartSlopes& slopes,
                   double amplitude, const cv::Mat1f& residual) {
  const GroundLoss loss(weight_of(on.seen), on.pitch_mm);
  std::vector<cv::Mat2f> by = {texture.spectrum(loss(pattern))};
  for (const cv::Mat1f& slope : slopes.by_part) by.push_back(texture.spectrum(loss(slope * amplitude)));
  const cv::Mat2f left = texture.spectrum(residual);
  const auto count = static_cast<Eigen::Index>(by.size());
  MatrixXd normal(count, count);
  VectorXd right(count);
  for (Eigen::Index i = 0; i < count; ++i) {
    right[i] = texture.inner(by[static_cast<std::size_t>(i)], left);
    for (Eigen::Index j = i; j < count; ++j)
      normal(i, j) = normal(j, i) = texture.inner(by[static_cast<std::size_t>(i)], by[static_cast<std::size_t>(j)]);
  }
  constexpr double kFarthest_mm = 0.3;  // where a part without an edge may lie: so near that a number comes out
  normal.diagonal().tail(count - 1).array() += 1.0 / (kFarthest_mm * kFarthest_mm);
  normal(0, 0) += 1e-9;
  const MatrixXd inverse = normal.inverse();
  PartsOff parts{(inverse * right).tail(count - 1), inverse.bottomRightCorner(count - 1, count - 1)};
  leave_out_untold(kFarthest_mm, parts);
  return parts;
}

}  // namespace

PlaceByParts place_by_parts(const Unrolled& on, const Texture& texture, const InkRaster& ink, const MarkFit& fit,
                            const std::vector<double>& bounds, const cv::Mat1f& residual) {
  const cv::Mat1f pattern = laid(on, ink, fit.pose);
  const PartSlopes slopes = slopes_of_parts(on, pattern, fit.pose, bounds);
  const PartsOff parts = parts_off(on, texture, pattern, slopes, fit.amplitude, residual);
  PlaceByParts best{fit.pose, fit.normal.inverse().bottomRightCorner<3, 3>(), 0.0};
  if (!parts.covariance.allFinite() || !parts.off_mm.allFinite()) return best;
  double least = 0.0;
  constexpr double kFirst_mm = 0.002;  // a hundredth of a pixel
  constexpr double kLast_mm = 0.15;    // a mark that scatters more is none
  constexpr double kStep = 1.5;        // times the last one
  for (double scatter_mm = 0.0; scatter_mm < kLast_mm; scatter_mm = std::max(kFirst_mm, kStep * scatter_mm)) {
    MatrixXd whole = parts.covariance;
    whole.diagonal().array() += scatter_mm * scatter_mm;
    const Eigen::LLT<MatrixXd> root(whole);
    const MatrixXd weighted = root.solve(slopes.by_place);
    const Matrix3d normal = slopes.by_place.transpose() * weighted;
    const Vector3d moved = normal.inverse() * (weighted.transpose() * parts.off_mm);
    const VectorXd rest = parts.off_mm - slopes.by_place * moved;
    const double cost = 2.0 * root.matrixLLT().diagonal().array().log().sum() + std::log(normal.determinant()) +
                        rest.dot(root.solve(rest));
    if (!std::isfinite(cost) || (scatter_mm > 0.0 && cost >= least)) continue;
    least = cost;
    best.pose = fit.pose;
    best.pose.uv_mm += moved.head<2>();
    best.pose.turn_rad += moved[2];
    best.covariance = normal.inverse();
    best.scatter_mm = scatter_mm;
  }
  return best;
}

}  // namespace jigtrue
