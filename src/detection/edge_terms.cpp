#include "detection/edge_terms.hpp"

#include <cmath>
#include <numeric>
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
  BlurredShading(double sigma, double radius_px)
      : step_px_(kReach * sigma / kHalf), reach_px_(kReach * sigma), radius_px_(radius_px) {
    double sum = 0.0;
    for (std::size_t i = 0; i < weights_.size(); ++i) {
      const double z = kReach * (static_cast<double>(i) / kHalf - 1.0);
      weights_[i] = std::exp(-0.5 * z * z);
      sum += weights_[i];
    }
    for (double& weight : weights_) weight /= sum;
    for (std::size_t i = 0; i < weights_.size(); i += kCoarse) coarse_sum_ += weights_[i];
  }

  [[nodiscard]] double at(double s) const {
    if (s - reach_px_ >= 0.0) return 0.0;          // all of it outside
    if (s + reach_px_ <= -radius_px_) return 1.0;  // or beyond the axis
    // (Else a check of five rods takes 2 % longer.) Where nothing of the root's steep beginning is under the Gaussian
    // an eighth of the values do: off by up to 2e-5 for blurs of 0.6 to 2.8 px and radii of 5 to 60 px, while all of
    // them at the beginning itself are off by up to 2e-3.
    if (s + reach_px_ < -reach_px_) return sum(s, kCoarse) / coarse_sum_;
    return sum(s, 1);
  }

 private:
  static constexpr double kReach = 4.0;      // sigma
  static constexpr std::size_t kHalf = 48;   // samples a side: twelve a sigma
  static constexpr std::size_t kCoarse = 8;  // every eighth of the samples
  double step_px_;
  double reach_px_;
  double radius_px_;
  std::array<double, 2 * kHalf + 1> weights_{};
  double coarse_sum_ = 0.0;

  [[nodiscard]] double sum(double s, std::size_t every) const {
    double value = 0.0;
    for (std::size_t i = 0; i < weights_.size(); i += every) {
      const double from_here_px = (static_cast<double>(i) - static_cast<double>(kHalf)) * step_px_;
      const double depth = std::clamp(-(s + from_here_px) / radius_px_, 0.0, 1.0);
      value += weights_[i] * std::sqrt(depth * (2.0 - depth));
    }
    return value;
  }
};

// The model's terms at s = x - e. The first three belong to the blank (level, slope, shading or wall), the others to
// what lies beside it (level, slope). Absent ones are left out.
TermsRow terms_at(double s, double sigma, const BlurredShading* shading, double wall_px, bool curved_shade) {
  TermsRow terms{};
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
  return terms;
}

// The terms' sums of products with each other over each place's rows, packed, place after place.
std::vector<double> products_of(const EdgeTerms& terms, const RowTables& rows) {
  using Row = Eigen::Matrix<double, kMostTerms, 1>;
  Eigen::Matrix<double, kMostTerms, kMostTerms> sum;
  const auto count = static_cast<std::size_t>(terms.count);
  const std::size_t size = packed(count, 0);
  std::vector<double> products(static_cast<std::size_t>(terms.places) * size);
  const auto add = [&](Eigen::Index index, double sign) {
    const Row row = Eigen::Map<const Row>(rows.row(index));
    for (int k = 0; k < kMostTerms; ++k) sum.col(k) += row * (sign * row[k]);
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

// The sums of products of picked terms, out of those of all.
std::vector<double> picked(const std::vector<double>& products, std::size_t count,
                           const std::vector<std::size_t>& picks) {
  std::vector<double> result;
  result.reserve(products.size() / packed(count, 0) * packed(picks.size(), 0));
  for (std::size_t from = 0; from < products.size(); from += packed(count, 0))
    for (std::size_t i = 0; i < picks.size(); ++i)
      for (std::size_t k = 0; k <= i; ++k) result.push_back(products[from + packed(picks[i], picks[k])]);
  return result;
}

TermSolver solver_of(const std::vector<std::size_t>& picks, std::size_t inside, std::size_t count,
                     const std::vector<double>& normals, const std::vector<double>& chroma_products) {
  TermSolver solver;
  solver.count = picks.size();
  solver.inside = inside;
  std::copy(picks.begin(), picks.end(), solver.picks.begin());
  solver.chroma_products = picked(chroma_products, count, picks);
  solver.whiteners = picked(normals, count, picks);
  for (std::size_t from = 0; from < solver.whiteners.size(); from += packed(solver.count, 0)) {
    double* normal = solver.whiteners.data() + from;
    double trace = 0.0;
    for (std::size_t i = 0; i < solver.count; ++i) trace += normal[packed(i, i)];
    // terms are of order one; the ridge only settles what the window cannot tell apart
    solver.ridges.push_back(1e-9 * trace);
    for (std::size_t i = 0; i < solver.count; ++i) normal[packed(i, i)] += solver.ridges.back();
    whiten(normal, solver.count);
  }
  return solver;
}

}  // namespace

double blurred_step(double s, double sigma) { return 0.5 * std::erfc(-s / (sigma * std::sqrt(2.0))); }

TermCoefficients TermSolver::solve(Eigen::Index place, const TermsRow& products_with_terms) const {
  const double* own = whitener(place);
  TermCoefficients solved;
  for (std::size_t i = 0; i < count; ++i) {
    double white = 0.0;
    for (std::size_t k = 0; k <= i; ++k) white += own[packed(i, k)] * products_with_terms[picks[k]];
    for (std::size_t k = 0; k <= i; ++k) solved.coefficients[k] += own[packed(i, k)] * white;
    solved.along_terms += white * white;
  }
  return solved;
}

EdgeTerms tabulate_terms(const EdgeModelOptions& options) {
  const bool limb = options.radius_px > 0.0;
  const bool curved = limb && options.curved_shade;
  EdgeTerms terms;
  terms.columns = std::lround((options.inside_px + options.outside_px) / options.step_px) + 1;
  terms.places = 2 * std::lround(options.range_px / kPlaceStepPx) + 1;
  terms.stride = std::lround(options.step_px / kPlaceStepPx);
  const std::size_t inside = limb || options.wall_px > 0.0 ? 3 : 2;
  terms.count = static_cast<Eigen::Index>(inside) + 2 + (curved ? 1 : 0);
  const double first_px = -options.inside_px - options.range_px;
  const auto rows_under = [&](double sigma) {
    std::optional<BlurredShading> shading;
    if (limb) shading.emplace(sigma, options.radius_px);
    const Eigen::Index count = (terms.columns - 1) * terms.stride + terms.places;
    RowTables rows(count, terms.stride, kMostTerms);
    for (Eigen::Index i = 0; i < count; ++i)
      rows.push_back(terms_at(first_px + static_cast<double>(i) * kPlaceStepPx, sigma, shading ? &*shading : nullptr,
                              options.wall_px, curved));
    return rows;
  };
  terms.luma_rows = rows_under(options.blur_px);
  const std::vector<double> normals = products_of(terms, terms.luma_rows);
  std::vector<double> chroma_products;
  if (options.chroma) {
    terms.chroma_rows = rows_under(std::hypot(options.blur_px, options.chroma_blur_px));
    chroma_products = products_of(terms, terms.chroma_rows);
  }
  const auto count = static_cast<std::size_t>(terms.count);
  std::vector<std::size_t> picks(count);
  std::iota(picks.begin(), picks.end(), std::size_t{0});
  terms.all = solver_of(picks, inside, count, normals, chroma_products);
  if (limb) terms.unshaded = solver_of({0, 1, 3, 4}, 2, count, normals, chroma_products);
  return terms;
}

}  // namespace jigtrue
