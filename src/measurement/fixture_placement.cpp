#include "jigtrue/measurement/fixture_placement.hpp"

#include <cmath>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

// How far a blank that a jig holds well strays in its slot, 1 sigma: common practice, no source.
struct Stray {
  double across_mm = 0.3;
  double along_mm = 2.0;
  double turn_deg = 0.5;
};
constexpr Stray kStray;

struct Equation {
  Vector3d row;  // by shift x, shift y, turn (rad)
  double value = 0.0;
  double sigma = 1.0;
};

std::vector<Equation> equations(const Slot& slot, const SlotNumbers& numbers, const Vector2d& centre_mm) {
  const double angle = rad_from_deg(slot.axis_deg);
  const Vector2d along = unit_vector(angle);
  const Vector2d across = turned_left(along);
  const Vector2d arm = slot.centre_mm - centre_mm;
  const Vector2d by_turn = turned_left(arm);
  std::vector<Equation> list;
  list.push_back({{across.x(), across.y(), across.dot(by_turn)}, numbers.across_mm, kStray.across_mm});
  if (numbers.along_mm)
    list.push_back({{along.x(), along.y(), along.dot(by_turn)}, *numbers.along_mm, kStray.along_mm});
  if (!std::holds_alternative<DiscBlank>(slot.blank.shape))
    list.push_back({{0.0, 0.0, 1.0}, rad_from_deg(numbers.rotation_deg), rad_from_deg(kStray.turn_deg)});
  return list;
}

}  // namespace

Vector2d common_centre_mm(const Fixture& fixture) {
  Vector2d sum = Vector2d::Zero();
  for (const Slot& slot : fixture.slots) sum += slot.centre_mm;
  return sum / static_cast<double>(fixture.slots.size());
}

std::optional<FixturePlacement> placement_from_slots(const Fixture& fixture, const std::vector<SlotResult>& slots) {
  std::vector<Equation> list;
  int measured = 0;
  const Vector2d centre = common_centre_mm(fixture);
  for (std::size_t i = 0; i < slots.size(); ++i) {
    if (slots[i].state != SlotState::found || !slots[i].numbers) continue;
    ++measured;
    for (const Equation& equation : equations(fixture.slots[i], *slots[i].numbers, centre)) list.push_back(equation);
  }
  if (measured < 2) return std::nullopt;
  Vector3d solution = Vector3d::Zero();
  Matrix3d covariance = Matrix3d::Zero();
  std::vector<double> weights(list.size(), 1.0);
  double scale = 1.0;
  for (int round = 0; round < 8; ++round) {
    Matrix3d normal = Matrix3d::Zero();
    Vector3d right = Vector3d::Zero();
    for (std::size_t i = 0; i < list.size(); ++i) {
      const double w = weights[i] / (list[i].sigma * list[i].sigma);
      normal += w * list[i].row * list[i].row.transpose();
      right += w * list[i].value * list[i].row;
    }
    const Eigen::LDLT<Matrix3d> factor(normal);
    solution = factor.solve(right);
    covariance = factor.solve(Matrix3d::Identity());
    double sum = 0.0;
    for (std::size_t i = 0; i < list.size(); ++i) {
      const double z = (list[i].value - list[i].row.dot(solution)) / list[i].sigma;
      weights[i] = 1.0 / (1.0 + z * z / 9.0);
      sum += weights[i] * z * z;
    }
    scale = sum / static_cast<double>(list.size());
  }
  covariance *= std::max(scale, 0.05);
  FixturePlacement placement;
  placement.shift_mm = solution.head<2>();
  placement.turn_deg = deg_from_rad(solution[2]);
  placement.from = "slots";
  placement.shift_u_mm = 2.0 * std::sqrt(std::max(covariance(0, 0), covariance(1, 1)));
  placement.turn_u_deg = 2.0 * deg_from_rad(std::sqrt(covariance(2, 2)));
  return placement;
}

}  // namespace jigtrue
