// Least squares and the covariance that every stated uncertainty is made of, against certified and printed results.
#include "jigtrue/base/least_squares.hpp"

#include "jigtrue/base/decompositions.hpp"

#include <cmath>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

struct LinearFit {
  VectorXd value;
  VectorXd sigma;
  MatrixXd correlation;
  double residual_sigma = 0.0;
};

// y = design * value, by the same calls that fit lenses and poses; `options` say when to stop.
LinearFit fit_linear(const MatrixXd& design, const VectorXd& y, const LeastSquaresOptions& options = {}) {
  LinearFit fit;
  fit.value = VectorXd::Zero(design.cols());
  const auto summary = minimise_dense(
      fit.value,
      [&](const VectorXd& at, VectorXd& r, MatrixXd& j) {
        r = design * at - y;
        j = design;
        return true;
      },
      options);
  EXPECT_TRUE(summary.converged()) << to_string(summary.reason);
  fit.residual_sigma = std::sqrt(summary.cost / static_cast<double>(design.rows() - design.cols()));
  const auto inverse = inverse_spd(design.transpose() * design);
  if (!inverse) throw std::logic_error("the normal matrix has no inverse");
  const VectorXd unit = inverse->diagonal().cwiseSqrt();
  fit.sigma = fit.residual_sigma * unit;
  fit.correlation = unit.cwiseInverse().asDiagonal() * *inverse * unit.cwiseInverse().asDiagonal();
  return fit;
}

MatrixXd line_about(const VectorXd& x, double middle) {
  MatrixXd design(x.size(), 2);
  design << VectorXd::Ones(x.size()), x.array() - middle;
  return design;
}

template <std::size_t N>
VectorXd column(const double (&values)[N]) {
  return Eigen::Map<const VectorXd>(values, static_cast<Eigen::Index>(N));
}

// Digits that agree, counted as NIST does (log relative error): 15 are certified.
double digits(double got, double certified) {
  const double error = std::abs(got - certified) / std::abs(certified);
  return error == 0.0 ? 15.0 : -std::log10(error);
}

// To the last step that lowers the cost at all.
LeastSquaresOptions to_the_end() {
  LeastSquaresOptions options;
  options.relative_decrease = 0.0;
  return options;
}

// With its own stopping rule a fit ends where the cost can fall by 1e-13 of itself, a few e-7 sigma from the minimum:
// what every fit of a lens or a pose may be off by.
void expect_usual_stop_is_near(const MatrixXd& design, const VectorXd& y, const LinearFit& end) {
  const LinearFit usual = fit_linear(design, y);
  const double freedom = static_cast<double>(design.rows() - design.cols());
  for (Eigen::Index i = 0; i < design.cols(); ++i)
    EXPECT_LT(std::abs(usual.value[i] - end.value[i]), std::sqrt(1e-13 * freedom) * end.sigma[i]) << "B" << i;
}

// A minimum can be told apart from its neighbours only as finely as the cost can, to 2.2e-16 of itself: that leaves
// sqrt(2.2e-16 x degrees of freedom) of the certified standard deviation.
void expect_certified(double got, double certified, int freedom, double sigma) {
  EXPECT_NEAR(got, certified, std::sqrt(2.2e-16 * freedom) * sigma) << digits(got, certified) << " digits";
}

// Published: NIST Statistical Reference Datasets, linear regression, "Norris" (lower level of difficulty).
TEST(NistStrd, Norris) {
  const double x[] = {0.2, 337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
                      0.6, 775.5, 666.9, 338.0, 447.5, 11.6,  556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
                      0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
  const double y[] = {0.1, 338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
                      0.1, 778.1, 668.8, 339.3, 448.9, 10.8,  557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
                      0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};
  const MatrixXd design = line_about(column(x), 0.0);
  const LinearFit fit = fit_linear(design, column(y), to_the_end());
  expect_certified(fit.value[0], -0.262323073774029, 34, 0.232818234301152);
  expect_certified(fit.value[1], 1.00211681802045, 34, 0.429796848199937E-03);
  // The inverse of normal equations loses at most twice the digits of their condition, here 10^3: of 16 ten are left.
  EXPECT_GE(digits(fit.sigma[0], 0.232818234301152), 10.0);
  EXPECT_GE(digits(fit.sigma[1], 0.429796848199937E-03), 10.0);
  EXPECT_GE(digits(fit.residual_sigma, 0.884796396144373), 10.0);
  expect_usual_stop_is_near(design, column(y), fit);
}

// Published: NIST Statistical Reference Datasets, linear regression, "Longley" (higher level of difficulty: six columns
// that are all but multiples of one another; J. W. Longley, J. Am. Stat. Ass. 62 (1967) 819-841).
TEST(NistStrd, Longley) {
  MatrixXd table(16, 7);
  table << 60323, 83.0, 234289, 2356, 1590, 107608, 1947,  //
      61122, 88.5, 259426, 2325, 1456, 108632, 1948,       //
      60171, 88.2, 258054, 3682, 1616, 109773, 1949,       //
      61187, 89.5, 284599, 3351, 1650, 110929, 1950,       //
      63221, 96.2, 328975, 2099, 3099, 112075, 1951,       //
      63639, 98.1, 346999, 1932, 3594, 113270, 1952,       //
      64989, 99.0, 365385, 1870, 3547, 115094, 1953,       //
      63761, 100.0, 363112, 3578, 3350, 116219, 1954,      //
      66019, 101.2, 397469, 2904, 3048, 117388, 1955,      //
      67857, 104.6, 419180, 2822, 2857, 118734, 1956,      //
      68169, 108.4, 442769, 2936, 2798, 120445, 1957,      //
      66513, 110.8, 444546, 4681, 2637, 121950, 1958,      //
      68655, 112.6, 482704, 3813, 2552, 123366, 1959,      //
      69564, 114.2, 502601, 3931, 2514, 125368, 1960,      //
      69331, 115.7, 518173, 4806, 2572, 127852, 1961,      //
      70551, 116.9, 554894, 4007, 2827, 130081, 1962;
  MatrixXd design = table;
  design.col(0).setOnes();
  const LinearFit fit = fit_linear(design, table.col(0), to_the_end());
  const double certified[] = {-3482258.63459582, 15.0618722713733,       -0.358191792925910E-01, -2.02022980381683,
                              -1.03322686717359, -0.511041056535807E-01, 1829.15146461355};
  const double sigma[] = {890420.383607373,  84.9149257747669,  0.334910077722432E-01, 0.488399681651699,
                          0.214274163161675, 0.226073200069370, 455.478499142212};
  // With every column brought to one length their condition is 4.3e4, and the inverse of the normal equations loses
  // twice that: of 16 digits 7 are left of the sigmas.
  for (int i = 0; i < 7; ++i) {
    SCOPED_TRACE("B" + std::to_string(i));
    expect_certified(fit.value[i], certified[i], 9, sigma[i]);
    EXPECT_GE(digits(fit.sigma[i], sigma[i]), 7.0);
  }
  EXPECT_GE(digits(fit.residual_sigma, 304.854073561965), 10.0);
  expect_usual_stop_is_near(design, table.col(0), fit);
}

// Published: JCGM 100:2008 (GUM), annex H.3, tables H.6 and H.7: a thermometer's correction as a line about 20 degrees.
// Printed results, so half of their last digit.
TEST(Gum, H3CalibrationLine) {
  const double t[] = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511};
  const double b[] = {-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160};
  const LinearFit fit = fit_linear(line_about(column(t), 20.0), column(b));
  EXPECT_NEAR(fit.value[0], -0.1712, 5e-5);
  EXPECT_NEAR(fit.value[1], 0.00218, 5e-6);
  EXPECT_NEAR(fit.sigma[0], 0.0029, 5e-5);
  EXPECT_NEAR(fit.sigma[1], 0.00067, 5e-6);
  EXPECT_NEAR(fit.correlation(0, 1), -0.930, 5e-4);
  EXPECT_NEAR(fit.residual_sigma, 0.0035, 5e-5);
  // the correction at 30 degrees, H.3.4: the covariance matters there, without it u would be 0.0073
  const double at_30 = fit.value[0] + 10.0 * fit.value[1];
  const double u_30 = std::sqrt(std::pow(fit.sigma[0], 2) + std::pow(10.0 * fit.sigma[1], 2) +
                                2.0 * 10.0 * fit.sigma[0] * fit.sigma[1] * fit.correlation(0, 1));
  EXPECT_NEAR(at_30, -0.1494, 5e-5);
  EXPECT_NEAR(u_30, 0.0041, 5e-5);
}

// Published: GUM annex H.2 (data and results from memory, recomputed): resistance and reactance from voltage, current
// and phase that were read together and so are correlated. Solved here as a fit of three unknowns to three correlated
// means, with their inverse normal matrix as the covariance: what a camera's pose goes through.
TEST(Gum, H2ResistanceAndReactance) {
  MatrixXd read(5, 3);
  read << 5.007, 19.663e-3, 1.0456,  //
      4.994, 19.639e-3, 1.0438,      //
      5.005, 19.640e-3, 1.0468,      //
      4.990, 19.685e-3, 1.0428,      //
      4.999, 19.678e-3, 1.0433;
  const VectorXd mean = read.colwise().mean();
  const MatrixXd about = read.rowwise() - mean.transpose();
  const MatrixXd covariance = about.transpose() * about / (5.0 * 4.0);
  // table H.2: u of the means 0.0032 V, 0.0095 mA, 0.00075 rad
  EXPECT_NEAR(std::sqrt(covariance(0, 0)), 0.0032, 5e-5);
  EXPECT_NEAR(std::sqrt(covariance(1, 1)), 0.0095e-3, 5e-8);
  EXPECT_NEAR(std::sqrt(covariance(2, 2)), 0.00075, 5e-6);
  const MatrixXd root = cholesky_factor(covariance).value();

  VectorXd x(3);  // current, resistance, reactance
  x << 0.01, 100.0, 100.0;
  MatrixXd normal;
  const auto summary = minimise_dense(x, [&](const VectorXd& at, VectorXd& r, MatrixXd& j) {
    const double i = at[0];
    const double z = std::hypot(at[1], at[2]);
    VectorXd model(3);
    model << i * z, i, std::atan2(at[2], at[1]);
    MatrixXd by(3, 3);
    by << z, i * at[1] / z, i * at[2] / z,  //
        1.0, 0.0, 0.0,                      //
        0.0, -at[2] / (z * z), at[1] / (z * z);
    r = root.triangularView<Eigen::Lower>().solve(model - mean);
    j = root.triangularView<Eigen::Lower>().solve(by);
    normal = j.transpose() * j;
    return true;
  });
  ASSERT_TRUE(summary.converged()) << to_string(summary.reason);
  const auto c = inverse_spd(normal);
  ASSERT_TRUE(c);
  const double z = std::hypot(x[1], x[2]);
  VectorXd by_z(3);
  by_z << 0.0, x[1] / z, x[2] / z;
  const double u_r = std::sqrt((*c)(1, 1));
  const double u_x = std::sqrt((*c)(2, 2));
  const double u_z = std::sqrt(by_z.dot(*c * by_z));
  const VectorXd with_z = *c * by_z;
  // tables H.3 and H.4, half of the last digit printed; of u(X) a whole one: without any rounding on the way it is
  // 0.2956
  EXPECT_NEAR(x[1], 127.732, 5e-4);
  EXPECT_NEAR(x[2], 219.847, 5e-4);
  EXPECT_NEAR(z, 254.260, 5e-4);
  EXPECT_NEAR(u_r, 0.071, 5e-4);
  EXPECT_NEAR(u_x, 0.295, 1e-3);
  EXPECT_NEAR(u_z, 0.236, 5e-4);
  EXPECT_NEAR((*c)(1, 2) / (u_r * u_x), -0.588, 5e-4);
  EXPECT_NEAR(with_z[1] / (u_r * u_z), -0.485, 5e-4);
  EXPECT_NEAR(with_z[2] / (u_x * u_z), 0.993, 5e-4);
}

}  // namespace
}  // namespace jigtrue
