// What a checker's corner looks like: two blurred, slightly bent edges that cross, under light that changes slowly.
// Internal; in a header, for it is the inner loop of the fit.
#pragma once
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/image/sensor_range.hpp"

#include <cmath>

#include "image/blurred_step.hpp"

namespace jigtrue::checker {

enum Parameter : int {
  kX,
  kY,
  kAngleA,
  kAngleB,
  kContrast,
  kLevel,
  kContrastX,
  kContrastY,
  kLevelX,
  kLevelY,
  kBlurA,
  kBlurB,
  kBendA,
  kBendB,
  kParameters
};
using Parameters = Eigen::Matrix<double, kParameters, 1>;

struct Pixel {
  double x = 0.0, y = 0.0, grey = 0.0;
  int column = 0, row = 0;  // in the window's bounding box
};

struct Edge {
  double tx = 0.0, ty = 0.0, curvature = 0.0, per_blur = 1.0;
};

inline Edge make_edge(double angle, double curvature, double blur) {
  return {std::cos(angle), std::sin(angle), curvature, 1.0 / blur};
}

struct EdgeTerms {
  Step step;                                      // slope by px
  double by_x = 0.0, by_y = 0.0, by_angle = 0.0;  // derivative of the distance by v and by the edge's angle
  double by_bend = 0.0;
  double by_blur = 0.0;  // derivative of the step by the blur
};

inline EdgeTerms edge_terms(const StepTable& table, const Edge& edge, double vx, double vy) {
  const double along = edge.tx * vx + edge.ty * vy;
  const double across = -edge.ty * vx + edge.tx * vy;
  const double blurs = (across - 0.5 * edge.curvature * along * along) * edge.per_blur;
  EdgeTerms terms;
  terms.step = blurred_step(table, blurs);
  if (terms.step.slope == 0.0) return terms;
  terms.step.slope *= edge.per_blur;
  const double bend = edge.curvature * along;
  terms.by_x = -edge.ty - bend * edge.tx;
  terms.by_y = edge.tx - bend * edge.ty;
  terms.by_bend = -0.5 * along * along;
  terms.by_angle = -along - bend * across;
  terms.by_blur = -terms.step.slope * blurs;
  return terms;
}

class Model {
 public:
  explicit Model(const Parameters& p)
      : p_(p), a_(make_edge(p[kAngleA], p[kBendA], p[kBlurA])), b_(make_edge(p[kAngleB], p[kBendB], p[kBlurB])) {}

  double operator()(const Pixel& pixel, Parameters& gradient) const {
    const double vx = pixel.x - p_[kX];
    const double vy = pixel.y - p_[kY];
    const EdgeTerms a = edge_terms(table_, a_, vx, vy);
    const EdgeTerms b = edge_terms(table_, b_, vx, vy);
    const double product = a.step.value * b.step.value;
    const double contrast = p_[kContrast] + p_[kContrastX] * vx + p_[kContrastY] * vy;
    const double by_a = contrast * b.step.value * a.step.slope;
    const double by_b = contrast * a.step.value * b.step.slope;
    gradient[kX] = -(by_a * a.by_x + by_b * b.by_x) - product * p_[kContrastX] - p_[kLevelX];
    gradient[kY] = -(by_a * a.by_y + by_b * b.by_y) - product * p_[kContrastY] - p_[kLevelY];
    gradient[kAngleA] = by_a * a.by_angle;
    gradient[kAngleB] = by_b * b.by_angle;
    gradient[kContrast] = product;
    gradient[kLevel] = 1.0;
    gradient[kContrastX] = product * vx;
    gradient[kContrastY] = product * vy;
    gradient[kLevelX] = vx;
    gradient[kLevelY] = vy;
    gradient[kBlurA] = contrast * b.step.value * a.by_blur;
    gradient[kBlurB] = contrast * a.step.value * b.by_blur;
    gradient[kBendA] = by_a * a.by_bend;
    gradient[kBendB] = by_b * b.by_bend;
    return p_[kLevel] + p_[kLevelX] * vx + p_[kLevelY] * vy + contrast * product;
  }

  // What the pixel has less what is foreseen; nothing where it could not have shown as much.
  double residual(const Pixel& pixel, Parameters& gradient) const {
    const double foreseen = (*this)(pixel, gradient);
    if ((pixel.grey >= kSensorFull && foreseen >= pixel.grey) ||
        (pixel.grey <= kSensorEmpty && foreseen <= pixel.grey)) {
      gradient.setZero();
      return 0.0;
    }
    return pixel.grey - foreseen;
  }

 private:
  const StepTable& table_ = step_table();
  const Parameters& p_;
  Edge a_, b_;
};

}  // namespace jigtrue::checker
