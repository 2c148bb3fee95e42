#include "calibration/board_shape.hpp"

#include "jigtrue/base/coverage_factor.hpp"

#include <cmath>
#include <cstdio>

namespace jigtrue {

namespace {

// Three numbers beyond four of their sigmas each: once in five thousand sheets by chance, and still rarely when the
// sigmas, themselves estimated from some photos, are a quarter too small.
constexpr double kSigmas = 4.0;
// Less does not matter: a sheet of paper's own thickness; a tenth of a millimetre over 200.
constexpr double kSmallestBow_mm = 0.1;
constexpr double kSmallestStretch = 0.0005;

bool shows(double value, double sigma, double smallest) {
  return std::abs(value) > smallest && std::abs(value) > kSigmas * sigma;
}

std::string bow_note(double bow_mm, double sigma_mm, const char* side) {
  char text[300];
  std::snprintf(text, sizeof text,
                "The sheet is bowed by %.2f mm (+/- %.2f) %s the camera along its %s side: glue it to something flat "
                "before the next photos. This lens allows for the bow.",
                std::abs(bow_mm), kCoverageFactor95 * sigma_mm, bow_mm > 0.0 ? "towards" : "away from", side);
  return text;
}

std::string stretch_note(double stretch, double sigma) {
  const bool long_side_short = stretch > 0.0;
  char text[400];
  std::snprintf(
      text, sizeof text,
      "The print is %.2f %% (+/- %.2f) short along its %s side, as against its %s one: measure both with "
      "callipers over many squares, and give as --board the size along the long side. This lens allows for the "
      "difference.",
      100.0 * std::abs(stretch), 196.0 * sigma, long_side_short ? "long" : "short", long_side_short ? "short" : "long");
  return text;
}

}  // namespace

BoardShapeFit board_shape_fit(const bundle::BoardShape& shape, const MatrixXd& shared,
                              const std::vector<int>& free_lens, Eigen::Index lens_count) {
  BoardShapeFit fit;
  fit.stretch = shape.stretch;
  fit.bow_x_mm = shape.bow_x_mm;
  fit.bow_y_mm = shape.bow_y_mm;
  fit.covariance = shared.bottomRightCorner<3, 3>();
  fit.sigma = fit.covariance.diagonal().cwiseMax(0.0).cwiseSqrt();
  fit.with_lens = Eigen::Matrix<double, 3, Eigen::Dynamic>::Zero(3, lens_count);
  for (std::size_t i = 0; i < free_lens.size(); ++i)
    fit.with_lens.col(free_lens[i]) = shared.bottomLeftCorner(3, shared.cols()).col(static_cast<Eigen::Index>(i));
  return fit;
}

bool shape_shows(const BoardShapeFit& shape) { return !shape_notes(shape).empty(); }

std::vector<std::string> shape_notes(const BoardShapeFit& shape) {
  std::vector<std::string> notes;
  if (shows(shape.bow_x_mm, shape.sigma[1], kSmallestBow_mm))
    notes.push_back(bow_note(shape.bow_x_mm, shape.sigma[1], "long"));
  if (shows(shape.bow_y_mm, shape.sigma[2], kSmallestBow_mm))
    notes.push_back(bow_note(shape.bow_y_mm, shape.sigma[2], "short"));
  if (shows(shape.stretch, shape.sigma[0], kSmallestStretch))
    notes.push_back(stretch_note(shape.stretch, shape.sigma[0]));
  return notes;
}

std::vector<SeenPoint> in_shape(const std::vector<SeenPoint>& points, const bundle::BoardShape& shape) {
  std::vector<SeenPoint> shaped = points;
  for (SeenPoint& point : shaped) point.mm = bundle::shaped_point(shape, points, point.mm);
  return shaped;
}

}  // namespace jigtrue
