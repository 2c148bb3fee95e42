#include "jigtrue/camera/lens.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include "camera/distortion.hpp"

namespace jigtrue {

namespace {

// Positions come back to within this: far below anything that a picture can show, far above rounding (4000 px x 1e-16).
constexpr double kReprojection_px = 1e-9;
constexpr int kMostIterations = 60;

bool is_pinhole(LensModel model) { return model != LensModel::equidistant4; }

// Solves value(u) = target for a growing function on [0, limit]; Newton's step, halved into the bracket when it leaves
// it. A target beyond value(limit) gives limit: the caller's check of the domain then decides.
template <class Evaluate>
double solve_growing(const Evaluate& evaluate, double target, double limit) {
  double low = 0.0;
  double high = limit;
  double u = std::min(target, limit);
  for (int i = 0; i < kMostIterations; ++i) {
    const auto [value, slope] = evaluate(u);
    const double excess = value - target;
    if (std::abs(excess) <= 1e-15 * (1.0 + target)) return u;
    (excess > 0.0 ? high : low) = u;
    double next = u - excess / slope;
    if (!(next > low && next < high)) next = 0.5 * (low + high);
    if (std::abs(next - u) <= 1e-15 * (1.0 + u)) return next;
    u = next;
  }
  return u;
}

bool inside_domain(const Lens& lens, const Vector3d& point) {
  const double rho = point.head<2>().norm();
  // no angle is larger than its tangent: most points are told to be inside without their angle
  if (rho <= point.z() * lens.max_theta_rad) return true;
  const double theta = std::atan2(rho, point.z());
  // the edge of the domain itself counts as inside; its angle is known to rounding
  return theta <= lens.max_theta_rad * (1.0 + 1e-12);
}

Vector2d px_from_bent(const Lens& lens, const Vector2d& m) {
  return lens.parameters.head<2>().cwiseProduct(m) + lens.parameters.segment<2>(2);
}

std::optional<Vector3d> unproject_pinhole(const Lens& lens, const Vector2d& m) {
  const distortion::PinholeCoefficients c = distortion::pinhole_coefficients(lens);
  const double radius = m.norm();
  if (radius == 0.0 && c.p1 == 0.0 && c.p2 == 0.0) return Vector3d::UnitZ();
  const double limit = std::tan(lens.max_theta_rad);
  const double r = solve_growing(
      [&](double u) {
        const distortion::RadialFactor f = distortion::radial_factor(c, u * u);
        return std::pair(u * f.factor, f.factor + 2.0 * u * u * f.slope);
      },
      radius, limit);
  Vector2d point = radius > 0.0 ? Vector2d(m * (r / radius)) : Vector2d::Zero();
  for (int i = 0; i < 20 && (c.p1 != 0.0 || c.p2 != 0.0); ++i) {
    const distortion::BentPoint bent = distortion::bend_with_jacobian(c, point);
    const Vector2d step = bent.by_point.inverse() * (m - bent.m);
    point += step;
    if (!point.allFinite()) return std::nullopt;
    if (step.norm() <= 1e-15 * (1.0 + point.norm())) break;
  }
  return Vector3d(point.x(), point.y(), 1.0).normalized();
}

std::optional<Vector3d> unproject_equidistant(const Lens& lens, const Vector2d& m) {
  const distortion::AngleCoefficients k = distortion::angle_coefficients(lens);
  const double radius = m.norm();
  if (radius == 0.0) return Vector3d::UnitZ();
  const double theta = solve_growing(
      [&](double u) {
        const distortion::BentAngle bent = distortion::bend_angle(k, u);
        return std::pair(bent.value, bent.slope);
      },
      radius, lens.max_theta_rad);
  const Vector2d side = m * (std::sin(theta) / radius);
  return Vector3d(side.x(), side.y(), std::cos(theta));
}

// m = theta_d / rho * (x, y) with rho = |(x, y)|; the factor tends to 1/z on the axis.
struct AngularFactor {
  double factor;
  double over_rho_by_rho;  // (d factor / d rho) / rho
  double by_z;
};
AngularFactor angular_factor(const distortion::AngleCoefficients& k, const Vector3d& p) {
  const double rho2 = p.head<2>().squaredNorm();
  const double d2 = rho2 + p.z() * p.z();
  const double rho = std::sqrt(rho2);
  const double theta = std::atan2(rho, p.z());
  const distortion::BentAngle bent = distortion::bend_angle(k, theta);
  if (theta < 1e-5) {
    // series in rho / z: factor = 1/z + (k1 - 1/3) rho^2 / z^3, the next term is under 1e-20 / z
    const double z3 = p.z() * p.z() * p.z();
    const double second = k[0] - 1.0 / 3.0;
    return {1.0 / p.z() + second * rho2 / z3, 2.0 * second / z3, -bent.slope / d2};
  }
  return {bent.value / rho, (bent.slope * p.z() / d2 - bent.value / rho) / rho2, -bent.slope / d2};
}

}  // namespace

const char* to_string(LensModel model) {
  switch (model) {
    case LensModel::radial2:
      return "radial2";
    case LensModel::radial5:
      return "radial5";
    case LensModel::rational8:
      return "rational8";
    case LensModel::equidistant4:
      return "equidistant4";
  }
  throw std::logic_error("unknown lens model");
}

std::optional<LensModel> lens_model_from_string(const std::string& name) {
  for (const LensModel model :
       {LensModel::radial2, LensModel::radial5, LensModel::rational8, LensModel::equidistant4}) {
    if (name == to_string(model)) return model;
  }
  return std::nullopt;
}

int distortion_count(LensModel model) {
  switch (model) {
    case LensModel::radial2:
      return 2;
    case LensModel::radial5:
      return 5;
    case LensModel::rational8:
      return 8;
    case LensModel::equidistant4:
      return 4;
  }
  throw std::logic_error("unknown lens model");
}

std::vector<std::string> parameter_names(LensModel model) {
  std::vector<std::string> names{"fx", "fy", "cx", "cy"};
  if (model == LensModel::equidistant4) {
    names.insert(names.end(), {"k1", "k2", "k3", "k4"});
  } else if (model == LensModel::radial2) {
    names.insert(names.end(), {"k1", "k2"});
  } else {
    names.insert(names.end(), {"k1", "k2", "p1", "p2", "k3"});
    if (model == LensModel::rational8) names.insert(names.end(), {"k4", "k5", "k6"});
  }
  return names;
}

Outcome<Lens> try_make_lens(LensModel model, int width_px, int height_px, const VectorXd& parameters) {
  const int expected = 4 + distortion_count(model);
  if (parameters.size() != expected) {
    return Failure{std::string(to_string(model)) + " takes " + std::to_string(expected) + " parameters, not " +
                   std::to_string(parameters.size())};
  }
  if (width_px <= 0 || height_px <= 0) return Failure{"the picture's size is not positive"};
  if (!parameters.allFinite()) return Failure{"a parameter is not a finite number"};
  if (!(parameters[0] > 0.0 && parameters[1] > 0.0)) return Failure{"a focal length is not positive"};
  Lens lens{model, width_px, height_px, parameters, 0.0};
  lens.max_theta_rad = distortion::largest_angle(lens);
  const double theta = lens.max_theta_rad;
  double reach = 0.0;
  if (is_pinhole(model)) {
    const double r = std::tan(theta);
    reach = r * distortion::radial_factor(distortion::pinhole_coefficients(lens), r * r).factor;
  } else {
    reach = distortion::bend_angle(distortion::angle_coefficients(lens), theta).value;
  }
  const double reach_px = reach * std::min(parameters[0], parameters[1]);
  const double needed_px = 0.5 * std::min(width_px, height_px);
  if (!(reach_px >= needed_px)) {
    std::ostringstream text;
    text.precision(4);
    text << "the map folds over " << reach_px << " px from its centre, inside the picture (" << needed_px
         << " px at least are needed)";
    return Failure{text.str()};
  }
  return lens;
}

Lens make_lens(LensModel model, int width_px, int height_px, const VectorXd& parameters) {
  Outcome<Lens> lens = try_make_lens(model, width_px, height_px, parameters);
  if (!lens) throw input_error("lens", lens.reason(), "calibrate the lens again");
  return std::move(lens).value();
}

std::optional<Vector2d> project(const Lens& lens, const Vector3d& point_camera) {
  if (!point_camera.allFinite() || !inside_domain(lens, point_camera) || point_camera.isZero(0.0)) return std::nullopt;
  if (is_pinhole(lens.model)) {
    const Vector2d point = point_camera.head<2>() / point_camera.z();
    return px_from_bent(lens, distortion::bend(distortion::pinhole_coefficients(lens), point));
  }
  const AngularFactor f = angular_factor(distortion::angle_coefficients(lens), point_camera);
  return px_from_bent(lens, f.factor * point_camera.head<2>());
}

std::optional<Projection> project_with_jacobian(const Lens& lens, const Vector3d& point_camera,
                                                LensJacobian by_parameters) {
  if (!point_camera.allFinite() || !inside_domain(lens, point_camera) || point_camera.isZero(0.0)) return std::nullopt;
  const Vector2d focal = lens.focal_px();
  const double z = point_camera.z();
  Projection result;
  Vector2d m;
  if (is_pinhole(lens.model)) {
    const distortion::PinholeCoefficients c = distortion::pinhole_coefficients(lens);
    const Vector2d point = point_camera.head<2>() / z;
    const distortion::BentPoint bent = distortion::bend_with_jacobian(c, point);
    m = bent.m;
    Eigen::Matrix<double, 2, 3> normalised;
    normalised << 1.0 / z, 0.0, -point.x() / z, 0.0, 1.0 / z, -point.y() / z;
    result.by_point = focal.asDiagonal() * (bent.by_point * normalised);
    if (by_parameters == LensJacobian::yes) {
      result.by_parameters.resize(2, lens.parameters.size());
      result.by_parameters.rightCols(distortion_count(lens.model)) =
          focal.asDiagonal() * distortion::bend_by_coefficients(lens.model, c, point);
    }
  } else {
    const AngularFactor f = angular_factor(distortion::angle_coefficients(lens), point_camera);
    const Vector2d side = point_camera.head<2>();
    m = f.factor * side;
    Eigen::Matrix<double, 2, 3> bent;
    bent.leftCols<2>() = f.factor * Matrix2d::Identity() + f.over_rho_by_rho * side * side.transpose();
    const double rho = side.norm();
    // d theta / d z = -rho / d^2, so d m / d z = slope * (-rho / d^2) * side / rho
    bent.col(2) = f.by_z * side;
    result.by_point = focal.asDiagonal() * bent;
    if (by_parameters == LensJacobian::yes) {
      result.by_parameters.resize(2, lens.parameters.size());
      const double theta = std::atan2(rho, z);
      const Vector2d direction = rho > 0.0 ? Vector2d(side / rho) : Vector2d::Zero();
      double power = theta * theta * theta;
      for (int i = 0; i < 4; ++i, power *= theta * theta) {
        result.by_parameters.col(4 + i) = focal.cwiseProduct(direction) * power;
      }
    }
  }
  result.px = px_from_bent(lens, m);
  if (by_parameters == LensJacobian::yes) {
    result.by_parameters.leftCols<4>() << m.x(), 0.0, 1.0, 0.0, 0.0, m.y(), 0.0, 1.0;
  }
  return result;
}

std::optional<Vector3d> unproject(const Lens& lens, const Vector2d& px) {
  if (!px.allFinite()) return std::nullopt;
  const Vector2d m = (px - lens.parameters.segment<2>(2)).cwiseQuotient(lens.parameters.head<2>());
  std::optional<Vector3d> ray = is_pinhole(lens.model) ? unproject_pinhole(lens, m) : unproject_equidistant(lens, m);
  if (!ray) return std::nullopt;
  const std::optional<Vector2d> back = project(lens, *ray);
  if (!back || !((*back - px).norm() <= kReprojection_px)) return std::nullopt;
  return ray;
}

std::optional<Unprojection> unproject_with_jacobian(const Lens& lens, const Vector2d& px, LensJacobian by_parameters) {
  const std::optional<Vector3d> ray = unproject(lens, px);
  if (!ray) return std::nullopt;
  const std::optional<Projection> there = project_with_jacobian(lens, *ray, by_parameters);
  if (!there) return std::nullopt;
  // A unit ray moves only across itself: solve in two directions that are square to it.
  Eigen::Matrix<double, 3, 2> across;
  across.col(0) = ray->unitOrthogonal();
  across.col(1) = ray->cross(across.col(0));
  const Matrix2d by_across = there->by_point * across;
  Unprojection result;
  result.ray = *ray;
  result.by_px = across * by_across.inverse();
  if (!result.by_px.allFinite()) return std::nullopt;
  if (by_parameters == LensJacobian::yes) result.by_parameters = -result.by_px * there->by_parameters;
  return result;
}

}  // namespace jigtrue
