#include "drawn/light_across.hpp"

#include <array>
#include <cmath>

#include <Eigen/Geometry>

namespace jigtrue::test {
namespace {

bool is_shaded(const Profile& profile, const Vector2d& at, const Vector2d& way) {
  for (const Circle& rod : profile.rods) {
    const Vector2d to = rod.centre_mm - at;
    const double ahead = to.dot(way);
    if (ahead > 0.0 && to.squaredNorm() - ahead * ahead < rod.radius_mm * rod.radius_mm) return true;
  }
  for (const auto& [from, to] : profile.walls) {
    const Vector2d along = to - from;
    const double det = way.x() * -along.y() + along.x() * way.y();
    if (std::abs(det) < 1e-12) continue;
    const Vector2d d = from - at;
    const double distance = (d.x() * -along.y() + along.x() * d.y()) / det;
    const double share = (way.x() * d.y() - way.y() * d.x()) / det;
    if (distance > 1e-6 && share >= 0.0 && share <= 1.0) return true;
  }
  return false;
}

}  // namespace

double irradiance(const Profile& profile, const DrawnLight& light, const Vector2d& towards_lamp, const Vector2d& at,
                  const Vector2d& normal) {
  constexpr int kDirections = 72;
  constexpr int kLampRays = 24;
  const Vector2d from = at + 1e-4 * normal;
  const Vector2d beside(-normal.y(), normal.x());
  double sky = 0.0;
  // equal steps of the sine from the normal: each direction carries the same share of the light
  for (int i = 0; i < kDirections; ++i) {
    const double sine = -1.0 + (2.0 * i + 1.0) / kDirections;
    const Vector2d way = std::sqrt(1.0 - sine * sine) * normal + sine * beside;
    sky += way.y() <= 0.0 || is_shaded(profile, from, way) ? light.bounce : light.sky;
  }
  const double lamp_strength = (1.0 - light.sky) * towards_lamp.norm();
  const double height = std::atan2(towards_lamp.y(), towards_lamp.x());
  const double lowest = height - light.lamp_half_width_rad * (1.0 - 1.0 / kLampRays);
  const Eigen::Rotation2Dd next(2.0 * light.lamp_half_width_rad / kLampRays);
  Vector2d way(std::cos(lowest), std::sin(lowest));
  double lamp = 0.0;
  for (int i = 0; i < kLampRays; ++i, way = next * way) {
    const double cosine = way.dot(normal);
    if (cosine > 0.0 && way.y() > 0.0 && !is_shaded(profile, from, way)) lamp += cosine / kLampRays;
  }
  return sky / kDirections + lamp_strength * lamp;
}

}  // namespace jigtrue::test
