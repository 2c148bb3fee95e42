#include "jigtrue/inspection/apply_beam.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace jigtrue {
namespace {

double sure_part(const std::optional<Figure>& figure) { return is_sure(figure) ? figure->value : 0.0; }
double sure_part_u(const std::optional<Figure>& figure) { return is_sure(figure) ? figure->u95 : 0.0; }

// Of a distance on the bed: turn, and what is sure of the stretch.
Matrix2d offset_by_arm(const BeamOffset& offset) {
  const double turn = rad_from_deg(offset.turn_deg);
  const double square = rad_from_deg(sure_part(offset.stretch.square_deg));
  Matrix2d by;
  by << sure_part(offset.stretch.scale_x), -turn - square, turn, sure_part(offset.stretch.scale_y);
  return by;
}

// Of a place on the bed.
Vector2d offset_at(const BeamOffset& offset, const Vector2d& bed_mm) {
  return offset.shift_mm + offset_by_arm(offset) * (bed_mm - offset.about_mm);
}

// Of a direction on the bed, degrees.
double turn_at(const BeamOffset& offset, double axis_deg) {
  const Vector2d along = unit_vector(rad_from_deg(axis_deg));
  const Vector2d moved = offset_by_arm(offset) * along;
  return deg_from_rad(along.x() * moved.y() - along.y() * moved.x());
}

Vector2d offset_u_at(const BeamOffset& offset, const Vector2d& bed_mm) {
  const Vector2d arm = (bed_mm - offset.about_mm).cwiseAbs();
  const double turn = rad_from_deg(offset.turn_u_deg);
  const double square = rad_from_deg(sure_part_u(offset.stretch.square_deg));
  return {std::hypot(offset.shift_u_mm.x(), turn * arm.y(),
                     std::hypot(sure_part_u(offset.stretch.scale_x) * arm.x(), square * arm.y())),
          std::hypot(offset.shift_u_mm.y(), turn * arm.x(), sure_part_u(offset.stretch.scale_y) * arm.y())};
}

void take_off(const BeamOffset& offset, SlotResult& slot) {
  SlotNumbers& n = *slot.numbers;
  const double nominal = rad_from_deg(slot.nominal_axis_deg);
  const Vector2d along = unit_vector(nominal);
  const Vector2d across = turned_left(along);
  const Vector2d off = offset_at(offset, n.centre_mm);
  const Vector2d u = offset_u_at(offset, n.centre_mm);
  n.centre_mm -= off;
  n.offset_mm -= off;
  n.across_mm -= off.dot(across);
  if (n.along_mm) *n.along_mm -= off.dot(along);
  const double turned_deg = turn_at(offset, n.axis_deg);
  n.axis_deg -= turned_deg;
  n.rotation_deg -= turned_deg;
  n.uncertainty.across_mm = std::hypot(n.uncertainty.across_mm, u.cwiseProduct(across).norm());
  if (n.uncertainty.along_mm)
    *n.uncertainty.along_mm = std::hypot(*n.uncertainty.along_mm, u.cwiseProduct(along).norm());
  n.uncertainty.rotation_deg = std::hypot(n.uncertainty.rotation_deg, offset.turn_u_deg);
}

constexpr double kSure99 = 2.576 / kCoverageFactor95;  // of a 95 % half-width

}  // namespace

bool is_sure(const std::optional<Figure>& figure) { return figure && std::abs(figure->value) > kSure99 * figure->u95; }

bool is_sure(const BeamStretch& stretch) {
  return is_sure(stretch.scale_x) || is_sure(stretch.scale_y) || is_sure(stretch.square_deg);
}

void apply_beam(const BeamOffset& offset, const std::string& source, CheckResult& result) {
  if (result.beam_applied)
    throw input_error(source, "the beam's offset has been taken off this load's places already",
                      "leave out --apply-beam, or check the photo again without it");
  if (offset.machine_applied && !result.machine_applied)
    throw input_error(source, "it is what the beam is off by once the machine's own errors are corrected",
                      "give --apply-machine as well, as for the load that was inspected");
  if (!offset.machine_applied && result.machine_applied)
    throw input_error(source,
                      "it holds the machine's own errors, too, which --apply-machine would correct a second time",
                      "leave out --apply-machine, or inspect a load that was laid out with it");
  for (SlotResult& slot : result.slots)
    if (slot.numbers) take_off(offset, slot);
  result.beam_applied = offset;
  result.notes.insert(result.notes.begin(),
                      "The beam's offset was taken off: every place and angle is what the machine must be told so that "
                      "its beam lands on the blank. By burned marks of " +
                          std::to_string(offset.loads) + (offset.loads == 1 ? " load" : " loads") + " it lands " +
                          offset_text(offset) + " from where the camera has it.");
}

BeamOffset combined(const std::vector<BeamOffset>& loads) {
  if (loads.empty()) throw std::logic_error("combined: no loads");
  BeamOffset out = loads.front();
  out.loads = static_cast<int>(loads.size());
  if (loads.size() == 1) return out;
  // value, half-width
  const auto mean = [&](const auto& value, const auto& half_width, double& u) {
    const auto width = [&](const BeamOffset& load) { return std::max(half_width(load), 1e-6); };
    double sum = 0.0;
    double weights = 0.0;
    for (const BeamOffset& load : loads) {
      const double w = 1.0 / (width(load) * width(load));
      sum += w * value(load);
      weights += w;
    }
    const double middle = sum / weights;
    double chi_squared = 0.0;  // by the standard uncertainties
    for (const BeamOffset& load : loads)
      chi_squared += std::pow(kCoverageFactor95 * (value(load) - middle) / width(load), 2);
    // Loads that disagree by more than they state are widened by Birge's ratio (R. T. Birge, Phys. Rev. 40, 1932).
    u = std::sqrt(std::max(1.0, chi_squared / (static_cast<double>(loads.size()) - 1.0)) / weights);
    return middle;
  };
  for (int axis = 0; axis < 2; ++axis)
    out.shift_mm[axis] =
        mean([&](const BeamOffset& load) { return offset_at(load, out.about_mm)[axis]; },
             [&](const BeamOffset& load) { return offset_u_at(load, out.about_mm)[axis]; }, out.shift_u_mm[axis]);
  out.turn_deg = mean([](const BeamOffset& load) { return load.turn_deg; },
                      [](const BeamOffset& load) { return load.turn_u_deg; }, out.turn_u_deg);
  for (std::optional<Figure> BeamStretch::*figure :
       {&BeamStretch::scale_x, &BeamStretch::scale_y, &BeamStretch::square_deg}) {
    const bool all = std::all_of(loads.begin(), loads.end(),
                                 [&](const BeamOffset& load) { return (load.stretch.*figure).has_value(); });
    (out.stretch.*figure).reset();
    if (!all) continue;
    Figure both;
    both.value = mean([&](const BeamOffset& load) { return (load.stretch.*figure)->value; },
                      [&](const BeamOffset& load) { return (load.stretch.*figure)->u95; }, both.u95);
    out.stretch.*figure = both;
  }
  return out;
}

int loads_for(double u_mm, int loads, double wanted_mm) {
  const double share = u_mm / wanted_mm;
  return std::max(loads, static_cast<int>(std::ceil(loads * share * share)));
}

std::string stretch_text(const BeamStretch& stretch) {
  std::string out;
  const auto add = [&](const std::string& words) { out += (out.empty() ? "" : ", ") + words; };
  const auto percent = [](const Figure& figure) {
    return signed_text(100.0 * figure.value, 3) + " % (+/- " + fixed_text(100.0 * figure.u95, 3) + ")";
  };
  if (stretch.scale_x) add("along X " + percent(*stretch.scale_x));
  if (stretch.scale_y) add("along Y " + percent(*stretch.scale_y));
  if (stretch.square_deg)
    add("its axes' angle " + signed_text(stretch.square_deg->value, 3) + " deg (+/- " +
        fixed_text(stretch.square_deg->u95, 3) + ")");
  return out;
}

std::string offset_text(const BeamOffset& offset) {
  const int decimals = offset.shift_u_mm.minCoeff() < 0.005 ? 3 : 2;
  return signed_text(offset.shift_mm.x(), decimals) + " mm in X, " + signed_text(offset.shift_mm.y(), decimals) +
         " mm in Y (+/- " + fixed_text(offset.shift_u_mm.x(), decimals) + " and " +
         fixed_text(offset.shift_u_mm.y(), decimals) + " mm), turned by " + signed_text(offset.turn_deg, 3) +
         " deg (+/- " + fixed_text(offset.turn_u_deg, 3) + ")";
}

}  // namespace jigtrue
