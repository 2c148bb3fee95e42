#include "jigtrue/camera/lens.hpp"

#include "jigtrue/base/error.hpp"

#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include <gtest/gtest.h>
#include <opencv2/calib3d.hpp>

namespace jigtrue {
namespace {

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

struct Case {
  std::string name;
  LensModel model;
  int width_px;
  int height_px;
  std::vector<double> parameters;
};

VectorXd vector(const std::vector<double>& values) {
  return Eigen::Map<const VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()));
}
Lens make(const Case& c) { return make_lens(c.model, c.width_px, c.height_px, vector(c.parameters)); }

// Invented lenses of the kinds that people have: phone, webcam, wide webcam, and the awkward plain ones.
const std::vector<Case> kCases = {
    {"plain_pinhole", LensModel::radial5, 640, 480, {500, 500, 320, 240, 0, 0, 0, 0, 0}},
    {"two_terms", LensModel::radial2, 768, 1024, {876, 876, 380, 520, 0.202, -0.403}},
    {"barrel", LensModel::radial5, 640, 480, {533, 533, 342, 234, -0.281, 0.029, 0.0012, -0.00014, 0.155}},
    {"pincushion_tangential",
     LensModel::radial5,
     3264,
     2448,
     {2900, 2880, 1600, 1250, 0.08, -0.02, -0.003, 0.002, 0.01}},
    {"rational",
     LensModel::rational8,
     3264,
     2448,
     {2700, 2701, 1640, 1210, 0.3, -0.1, 0.0004, -0.0003, 0.02, 0.4, -0.05, 0.03}},
    {"equidistant_bare", LensModel::equidistant4, 2592, 1944, {900, 900, 1290, 980, 0, 0, 0, 0}},
    {"equidistant",
     LensModel::equidistant4,
     1280,
     800,
     {558.478, 560.507, 620.459, 381.939, -0.00146, -0.0033, 0.00606, -0.00374}},
};

class LensLaws : public testing::TestWithParam<Case> {};
INSTANTIATE_TEST_SUITE_P(Lenses, LensLaws, testing::ValuesIn(kCases), [](const auto& test) { return test.param.name; });

// Positions over the whole picture, its four corners included.
std::vector<Vector2d> picture_grid(const Lens& lens, int steps) {
  std::vector<Vector2d> points;
  for (int i = 0; i <= steps; ++i) {
    for (int j = 0; j <= steps; ++j) {
      points.emplace_back((lens.width_px - 1.0) * i / steps, (lens.height_px - 1.0) * j / steps);
    }
  }
  points.emplace_back(lens.principal_px());
  return points;
}

TEST_P(LensLaws, PositionsComeBackOverTheWholePicture) {
  const Lens lens = make(GetParam());
  for (const Vector2d& px : picture_grid(lens, 60)) {
    const auto ray = unproject(lens, px);
    ASSERT_TRUE(ray) << px.transpose();
    EXPECT_NEAR(ray->norm(), 1.0, 1e-14);
    const auto back = project(lens, *ray * 437.0);
    ASSERT_TRUE(back) << px.transpose();
    // 1e-9 px: far below sight, a thousand times above rounding at 4000 px
    EXPECT_LT((*back - px).norm(), 1e-9) << px.transpose();
  }
}

TEST_P(LensLaws, ProjectionAgreesWithOpenCv) {
  const Lens lens = make(GetParam());
  std::vector<cv::Point3d> points;
  for (const Vector2d& px : picture_grid(lens, 20)) {
    const auto ray = unproject(lens, px);
    ASSERT_TRUE(ray);
    if (ray->z() < 0.05) continue;  // OpenCV's fisheye knows no rays beyond 90 degrees
    points.emplace_back((*ray)[0] * 300, (*ray)[1] * 300, (*ray)[2] * 300);
  }
  ASSERT_GT(points.size(), 300u);
  const VectorXd& p = lens.parameters;
  const cv::Matx33d k(p[0], 0, p[2], 0, p[1], p[3], 0, 0, 1);
  std::vector<double> distortion(p.data() + 4, p.data() + p.size());
  if (lens.model == LensModel::radial2) distortion.resize(4, 0.0);  // OpenCV asks for the tangential terms, too
  std::vector<cv::Point2d> expected;
  const cv::Vec3d zero(0, 0, 0);
  if (lens.model == LensModel::equidistant4) {
    cv::fisheye::projectPoints(points, expected, zero, zero, k, distortion);
  } else {
    cv::projectPoints(points, zero, zero, k, distortion, expected);
  }
  for (std::size_t i = 0; i < points.size(); ++i) {
    const auto px = project(lens, {points[i].x, points[i].y, points[i].z});
    ASSERT_TRUE(px);
    // two ways of computing the same polynomial: rounding of a few thousand px only. cv::fisheye drops its distortion
    // within 1e-8 of the axis, which moves nothing by as much.
    EXPECT_LT((*px - Vector2d(expected[i].x, expected[i].y)).norm(), 1e-8) << "point " << i;
  }
}

// Central differences with step h err by about h^2 f''' + eps f / h: with h = 1e-6 relative and values of some thousand
// px that is about 1e-6 relative.
TEST_P(LensLaws, ProjectionJacobiansAgreeWithDifferences) {
  const Lens lens = make(GetParam());
  for (const Vector2d& px : picture_grid(lens, 6)) {
    const Vector3d point = *unproject(lens, px) * 250.0;
    const auto there = project_with_jacobian(lens, point, LensJacobian::yes);
    if (!there) continue;  // the outermost rays lie within a rounding of the domain's edge
    EXPECT_LT((there->px - px).norm(), 1e-9);
    for (int axis = 0; axis < 3; ++axis) {
      const double h = 250.0 * 1e-6;
      const auto plus = project(lens, point + h * Vector3d::Unit(axis));
      const auto minus = project(lens, point - h * Vector3d::Unit(axis));
      ASSERT_TRUE(plus && minus);
      const Vector2d numeric = (*plus - *minus) / (2 * h);
      EXPECT_LT((numeric - there->by_point.col(axis)).norm(), 2e-6 * (1.0 + there->by_point.norm()))
          << px.transpose() << " axis " << axis;
    }
    ASSERT_EQ(there->by_parameters.cols(), lens.parameters.size());
    for (int i = 0; i < lens.parameters.size(); ++i) {
      const double h = 1e-6 * std::max(1.0, std::abs(lens.parameters[i]));
      Lens plus = lens;
      Lens minus = lens;
      plus.parameters[i] += h;
      minus.parameters[i] -= h;
      const Vector2d numeric = (*project(plus, point) - *project(minus, point)) / (2 * h);
      const Vector2d analytic = there->by_parameters.col(i);
      EXPECT_LT((numeric - analytic).norm(), 2e-6 * (1.0 + analytic.norm())) << px.transpose() << " parameter " << i;
    }
  }
}

TEST_P(LensLaws, UnprojectionJacobiansAgreeWithDifferences) {
  const Lens lens = make(GetParam());
  for (const Vector2d& px : picture_grid(lens, 6)) {
    const auto there = unproject_with_jacobian(lens, px, LensJacobian::yes);
    ASSERT_TRUE(there) << px.transpose();
    for (int axis = 0; axis < 2; ++axis) {
      const double h = 1e-3;
      const auto plus = unproject(lens, px + h * Vector2d::Unit(axis));
      const auto minus = unproject(lens, px - h * Vector2d::Unit(axis));
      ASSERT_TRUE(plus && minus);
      EXPECT_LT(((*plus - *minus) / (2 * h) - there->by_px.col(axis)).norm(), 1e-6 * there->by_px.norm());
    }
    for (int i = 0; i < lens.parameters.size(); ++i) {
      const double h = 1e-6 * std::max(1.0, std::abs(lens.parameters[i]));
      Lens plus = lens;
      Lens minus = lens;
      plus.parameters[i] += h;
      minus.parameters[i] -= h;
      const Vector3d numeric = (*unproject(plus, px) - *unproject(minus, px)) / (2 * h);
      const Vector3d analytic = there->by_parameters.col(i);
      EXPECT_LT((numeric - analytic).norm(), 1e-5 * analytic.norm() + 1e-9) << px.transpose() << " parameter " << i;
    }
  }
}

TEST_P(LensLaws, DomainEndsBeforeTheMapFolds) {
  const Lens lens = make(GetParam());
  double last = -1.0;
  for (int i = 0; i <= 400; ++i) {
    const double theta = lens.max_theta_rad * i / 400;
    const auto px = project(lens, {std::sin(theta), 0.0, std::cos(theta)});
    ASSERT_TRUE(px) << "at angle " << theta;
    const double radius = (*px - *project(lens, Vector3d::UnitZ())).norm();
    EXPECT_GT(radius, last);
    last = radius;
  }
  const double beyond = lens.max_theta_rad + 1e-6;
  EXPECT_FALSE(project(lens, {std::sin(beyond), 0.0, std::cos(beyond)}));
}

TEST(Lens, FoldingPolynomialIsRefusedBeyondItsTurningPoint) {
  // r (1 - 0.3 r^2) turns at r = 1 / sqrt(0.9) = 1.0541, image radius 0.7027 * 500 = 351 px; the domain stops a hair
  // earlier, where the slope by angle has fallen to 1 %
  const Lens lens = make_lens(LensModel::radial5, 640, 480, vector({500, 500, 320, 240, -0.3, 0, 0, 0, 0}));
  EXPECT_LT(lens.max_theta_rad, std::atan(1.0541));
  EXPECT_GT(lens.max_theta_rad, std::atan(1.0541) - 0.02);
  EXPECT_FALSE(unproject(lens, {320 + 352, 240}));
  EXPECT_TRUE(unproject(lens, {320 + 350, 240}));
  EXPECT_FALSE(project(lens, {1.2, 0, 1.0}));
}

TEST(Lens, VanishingDenominatorIsTheDomainsEnd) {
  // 1 - 0.5 r^2 = 0 at r = 1.414
  const Lens lens = make_lens(LensModel::rational8, 640, 480, vector({500, 500, 320, 240, 0, 0, 0, 0, 0, -0.5, 0, 0}));
  EXPECT_LT(lens.max_theta_rad, std::atan(std::sqrt(2.0)) + 1e-9);
  EXPECT_FALSE(project(lens, {1.5, 0, 1.0}));
}

TEST(Lens, NothingBehindThePinhole) {
  const Lens lens = make_lens(LensModel::radial5, 640, 480, vector({500, 500, 320, 240, 0, 0, 0, 0, 0}));
  EXPECT_FALSE(project(lens, {0, 0, -1}));
  EXPECT_FALSE(project(lens, {1, 0, 0}));
  EXPECT_FALSE(project(lens, {0, 0, 0}));
  EXPECT_FALSE(project(lens, {kNaN, 0, 1}));
  EXPECT_FALSE(unproject(lens, {kNaN, 0}));
  EXPECT_FALSE(unproject(lens, {std::numeric_limits<double>::infinity(), 0}));
}

TEST(Lens, EquidistantSeesBeyondNinetyDegrees) {
  const Lens lens = make_lens(LensModel::equidistant4, 1000, 1000, vector({250, 250, 500, 500, 0, 0, 0, 0}));
  const auto px = project(lens, {std::sin(1.8), 0, std::cos(1.8)});
  ASSERT_TRUE(px);
  EXPECT_NEAR(px->x(), 500 + 250 * 1.8, 1e-9);
}

TEST(Lens, BadParametersAreNamed) {
  const auto message = [](LensModel model, int w, int h, const std::vector<double>& p) {
    try {
      (void)make_lens(model, w, h, vector(p));
    } catch (const InputError& error) {
      return std::string(error.what());
    }
    return std::string("accepted");
  };
  EXPECT_NE(message(LensModel::radial5, 640, 480, {500, 500, 320, 240}).find("takes 9 parameters"), std::string::npos);
  EXPECT_NE(message(LensModel::radial5, 640, 480, {-500, 500, 320, 240, 0, 0, 0, 0, 0}).find("focal"),
            std::string::npos);
  EXPECT_NE(message(LensModel::radial5, 640, 480, {500, kNaN, 320, 240, 0, 0, 0, 0, 0}).find("finite"),
            std::string::npos);
  EXPECT_NE(message(LensModel::radial5, 640, 480, {500, 500, 320, 240, -2, 0, 0, 0, 0}).find("folds"),
            std::string::npos);
  EXPECT_NE(message(LensModel::radial5, 0, 480, {500, 500, 320, 240, 0, 0, 0, 0, 0}).find("size"), std::string::npos);
}

TEST(Lens, NamesComeBack) {
  for (const LensModel model :
       {LensModel::radial2, LensModel::radial5, LensModel::rational8, LensModel::equidistant4}) {
    EXPECT_EQ(lens_model_from_string(to_string(model)), model);
    EXPECT_EQ(static_cast<int>(parameter_names(model).size()), 4 + distortion_count(model));
  }
  EXPECT_FALSE(lens_model_from_string("polynomial"));
}

// Random sane lenses: whatever the map accepts comes back, and nothing is a number that is not.
TEST(Lens, RandomLensesGiveTheTruthOrNothing) {
  std::mt19937 random(20240611);
  std::uniform_real_distribution<double> unit(-1.0, 1.0);
  int answered = 0;
  for (int trial = 0; trial < 400; ++trial) {
    const LensModel model = std::vector{LensModel::radial5, LensModel::rational8, LensModel::equidistant4}[trial % 3];
    VectorXd p(4 + distortion_count(model));
    p << VectorXd::Constant(4, 0.0), VectorXd::Zero(distortion_count(model));
    p.head<4>() << 600 * (1 + 0.5 * unit(random)), 600 * (1 + 0.5 * unit(random)), 320 + 40 * unit(random),
        240 + 40 * unit(random);
    for (Eigen::Index i = 4; i < p.size(); ++i) p[i] = (i == 6 || i == 7 ? 0.01 : 0.5) * unit(random);
    const auto lens = try_make_lens(model, 640, 480, p);
    if (!lens) continue;
    for (const Vector2d& px : picture_grid(*lens, 8)) {
      const auto ray = unproject(*lens, px);
      if (!ray) continue;
      ++answered;
      ASSERT_TRUE(ray->allFinite());
      EXPECT_LE(std::acos(ray->z()), lens->max_theta_rad + 1e-7);
      const auto back = project(*lens, *ray);
      ASSERT_TRUE(back);
      EXPECT_LT((*back - px).norm(), 1e-9);
    }
  }
  EXPECT_GT(answered, 5000);
}

}  // namespace
}  // namespace jigtrue
