#include "jigtrue/calibration/map_uncertainty.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Eigenvalues>

namespace jigtrue {
namespace {

// Radius of the circle about the mean of a two-dimensional normal distribution that holds 95 %: exact for a round one
// (2.4477 sigma) and for a line (1.9600 sigma); in between by interpolation over the axes' ratio, within 2 %
// (Gilliland, J. Am. Stat. Assoc. 57 (1962) tabulates the exact values).
double radius_95(const Matrix2d& covariance) {
  const Eigen::SelfAdjointEigenSolver<Matrix2d> axes(covariance, Eigen::EigenvaluesOnly);
  const double small = std::sqrt(std::max(axes.eigenvalues()[0], 0.0));
  const double large = std::sqrt(std::max(axes.eigenvalues()[1], 0.0));
  const double ratio = large > 0.0 ? small / large : 0.0;
  return large * (1.9600 + (2.4477 - 1.9600) * ratio * ratio);
}

}  // namespace

std::optional<MappedPoint> map_point(const CameraRecord& record, const Vector2d& px, double height_mm) {
  if (px.x() < -0.5 || px.y() < -0.5 || px.x() > record.camera.lens.width_px - 0.5 ||
      px.y() > record.camera.lens.height_px - 0.5)
    return std::nullopt;
  const auto point = bed_point_at(record.camera, px, height_mm);
  if (!point) return std::nullopt;
  const auto projection = project_bed_point_with_jacobian(record.camera, {point->mm.x(), point->mm.y(), height_mm});
  if (!projection) return std::nullopt;
  MappedPoint mapped;
  mapped.bed_mm = point->mm;
  mapped.covariance_mm2 = point->covariance_mm2;
  const Matrix2d bed_from_px = projection->by_bed_point.leftCols<2>().inverse();
  const double error_px = record.lens.model_error_px / std::sqrt(2.0);
  const Matrix2d model = error_px * error_px * bed_from_px * bed_from_px.transpose();
  mapped.lens_error_mm = std::sqrt(model.trace() / 2.0);
  mapped.radius_95_mm = radius_95(mapped.covariance_mm2 + model);
  return mapped;
}

}  // namespace jigtrue
