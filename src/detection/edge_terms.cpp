#include "detection/edge_terms.hpp"

#include <cmath>
#include <optional>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

double normal_pdf(double x) { return std::exp(-0.5 * x * x) / std::sqrt(2.0 * kPi); }

// A step from 0 to 1 at s = 0, the ramp max(s, 0) and its square, each under a Gaussian of this sigma.
struct Blurred {
  double step;
  double ramp;
  double square;
};
Blurred blurred(double s, double sigma) {
  const double step = blurred_step(s, sigma);
  const double near = sigma * normal_pdf(s / sigma);
  return {step, s * step + near, (s * s + sigma * sigma) * step + s * near};
}

// The shading term, d = -s > 0 inside: sqrt(1 - (1 - d/R)^2), 1 from the axis on; blurred numerically.
class BlurredShading {
 public:
  BlurredShading(double sigma, double radius_px) : step_(4.0 * sigma / kHalf), radius_px_(radius_px) {
    double sum = 0.0;
    for (std::size_t i = 0; i < weights_.size(); ++i) {
      weights_[i] = std::exp(-0.5 * (offset(i) / sigma) * (offset(i) / sigma));
      sum += weights_[i];
    }
    for (double& weight : weights_) weight /= sum;
  }

  [[nodiscard]] double at(double s) const {
    if (s + offset(0) >= 0.0) return 0.0;          // all of it outside
    if (s - offset(0) <= -radius_px_) return 1.0;  // or beyond the axis
    double value = 0.0;
    for (std::size_t i = 0; i < weights_.size(); ++i) {
      const double depth = std::clamp(-(s + offset(i)) / radius_px_, 0.0, 1.0);
      value += weights_[i] * std::sqrt(depth * (2.0 - depth));
    }
    return value;
  }

 private:
  static constexpr std::size_t kHalf = 48;
  double step_;
  double radius_px_;
  std::array<double, 2 * kHalf + 1> weights_{};

  [[nodiscard]] double offset(std::size_t i) const {
    return (static_cast<double>(i) - static_cast<double>(kHalf)) * step_;
  }
};

// The model's terms at s = x - e. The first three belong to the blank (level, slope, shading or wall), the others to
// what lies beside it (level, slope). Absent ones are left out.
std::size_t put_terms(double s, double sigma, const BlurredShading* shading, double wall_px, bool curved_shade,
                      TermsRow& terms) {
  const Blurred here = blurred(s, sigma);
  const Blurred beside = wall_px > 0.0 ? blurred(s - wall_px, sigma) : here;
  std::size_t count = 0;
  terms[count++] = 1.0 - here.step;
  terms[count++] = (here.ramp - s) / kSlopeScalePx;
  if (shading != nullptr)
    terms[count++] = shading->at(s);
  else if (wall_px > 0.0)
    terms[count++] = here.step - beside.step;
  terms[count++] = beside.step;
  terms[count++] = beside.ramp / kSlopeScalePx;
  if (curved_shade) terms[count++] = beside.square / (kSlopeScalePx * kSlopeScalePx);
  return count;
}

// The terms' sums of products with each other over each place's rows, packed, place after place.
template <int lanes>
std::vector<double> products_of_windows(const EdgeTerms& terms, const RowTables& rows) {
  using Row = Eigen::Matrix<double, lanes, 1>;
  Eigen::Matrix<double, lanes, lanes> sum;
  const auto count = static_cast<std::size_t>(terms.count);
  const std::size_t size = packed(count, 0);
  std::vector<double> products(static_cast<std::size_t>(terms.places) * size);
  const auto add = [&](Eigen::Index index, double sign) {
    const Row row = Eigen::Map<const Row>(rows.row(index));
    for (int k = 0; k < lanes; ++k) sum.col(k) += row * (sign * row[k]);
  };
  const auto emit = [&](Eigen::Index place) {
    double* to = products.data() + static_cast<std::size_t>(place) * size;
    for (std::size_t i = 0; i < count; ++i)
      for (std::size_t k = 0; k <= i; ++k)
        to[packed(i, k)] = sum(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(k));
  };
  sum_over_windows(
      terms, [&] { sum.setZero(); }, add, emit);
  return products;
}

std::vector<double> products_of(const EdgeTerms& terms, const RowTables& rows) {
  return terms.lanes == kFewTerms ? products_of_windows<kFewTerms>(terms, rows)
                                  : products_of_windows<kMostTerms>(terms, rows);
}

// Replaces a positive definite matrix, packed, by W with W^T W its inverse: its Cholesky factor's inverse, lower
// triangular.
void whiten(double* matrix, std::size_t n) {
  constexpr double kTiny = 1e-30;  // never met: there is a ridge
  std::array<double, packed(kMostTerms, 0)> lower{};
  for (std::size_t j = 0; j < n; ++j) {
    for (std::size_t i = j; i < n; ++i) {
      double rest = matrix[packed(i, j)];
      for (std::size_t k = 0; k < j; ++k) rest -= lower[packed(i, k)] * lower[packed(j, k)];
      lower[packed(i, j)] = i == j ? std::sqrt(std::max(rest, kTiny)) : rest / lower[packed(j, j)];
    }
  }
  for (std::size_t j = 0; j < n; ++j) {
    const double inverse = 1.0 / lower[packed(j, j)];
    for (std::size_t c = 0; c < j; ++c) {
      double sum = 0.0;
      for (std::size_t k = c; k < j; ++k) sum += lower[packed(j, k)] * matrix[packed(k, c)];
      matrix[packed(j, c)] = -sum * inverse;
    }
    matrix[packed(j, j)] = inverse;
  }
}

}  // namespace

double blurred_step(double s, double sigma) { return 0.5 * std::erfc(-s / (sigma * std::sqrt(2.0))); }

EdgeTerms tabulate_terms(const EdgeModelOptions& options, double radius_px) {
  const bool curved = radius_px > 0.0 && options.curved_shade;
  EdgeTerms terms;
  terms.columns = std::lround((options.inside_px + options.outside_px) / options.step_px) + 1;
  terms.places = 2 * std::lround(options.range_px / kPlaceStepPx) + 1;
  terms.stride = std::lround(options.step_px / kPlaceStepPx);
  terms.outside = 2 + (curved ? 1 : 0);
  terms.count = 2 + (radius_px > 0.0 || options.wall_px > 0.0 ? 1 : 0) + terms.outside;
  terms.lanes = terms.count <= kFewTerms ? kFewTerms : kMostTerms;
  const double first_px = -options.inside_px - options.range_px;
  const auto rows_under = [&](double sigma) {
    std::optional<BlurredShading> shading;
    if (radius_px > 0.0) shading.emplace(sigma, radius_px);
    RowTables rows(terms.stride, terms.lanes);
    for (Eigen::Index i = 0; i < (terms.columns - 1) * terms.stride + terms.places; ++i) {
      TermsRow row{};
      put_terms(first_px + static_cast<double>(i) * kPlaceStepPx, sigma, shading ? &*shading : nullptr, options.wall_px,
                curved, row);
      rows.push_back(row);
    }
    return rows;
  };
  terms.luma_rows = rows_under(options.blur_px);
  terms.whiteners = products_of(terms, terms.luma_rows);
  const auto count = static_cast<std::size_t>(terms.count);
  for (Eigen::Index place = 0; place < terms.places; ++place) {
    double* normal = terms.whiteners.data() + static_cast<std::size_t>(place) * packed(count, 0);
    double trace = 0.0;
    for (std::size_t i = 0; i < count; ++i) trace += normal[packed(i, i)];
    // terms are of order one; the ridge only settles what the window cannot tell apart
    terms.ridges.push_back(1e-9 * trace);
    for (std::size_t i = 0; i < count; ++i) normal[packed(i, i)] += terms.ridges.back();
    whiten(normal, count);
  }
  if (!options.chroma) return terms;
  terms.chroma_rows = rows_under(std::hypot(options.blur_px, options.chroma_blur_px));
  terms.chroma_products = products_of(terms, terms.chroma_rows);
  return terms;
}

}  // namespace jigtrue
