#include "jigtrue/layout/apply_machine.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/layout/usable_band.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace jigtrue {
namespace {

constexpr double kCoverage = 2.0;  // of 95 %

Vector2d correction_of(const SlotResult& slot, const BeamMap& map) {
  const SlotNumbers& n = *slot.numbers;
  Vector2d correction = map.at(n.centre_mm) - n.centre_mm;
  if (n.along_mm) return correction;
  // a place along that nobody measured is the nominal one, which is the machine's already
  const double nominal = rad_from_deg(slot.nominal_axis_deg);
  const Vector2d across = turned_left(unit_vector(nominal));
  return across * correction.dot(across);
}

void correct(SlotResult& slot, const BeamMap& map) {
  SlotNumbers& n = *slot.numbers;
  const double nominal = rad_from_deg(slot.nominal_axis_deg);
  const Vector2d along = unit_vector(nominal);
  const Vector2d correction = correction_of(slot, map);
  const double turn_deg = deg_from_rad(map.turn_rad(rad_from_deg(n.axis_deg)));
  n.machine_correction_mm = correction;
  n.centre_mm += correction;
  n.offset_mm += correction;
  n.across_mm += correction.dot(Vector2d(-along.y(), along.x()));
  if (n.along_mm) *n.along_mm += correction.dot(along);
  n.axis_deg += turn_deg;
  n.rotation_deg += turn_deg;
}

struct Largest {
  const SlotResult* slot = nullptr;
  double mm = 0.0;
  double u_mm = 0.0;
};
// Of all slots with numbers, applied or not.
Largest largest_correction(const CheckResult& result) {
  Largest largest;
  const BeamMap& map = result.machine->map;
  for (const SlotResult& slot : result.slots) {
    if (!slot.numbers) continue;
    const auto& applied = slot.numbers->machine_correction_mm;
    const double mm = (applied ? *applied : correction_of(slot, map)).norm();
    if (largest.slot != nullptr && mm <= largest.mm) continue;
    const Vector2d seen = slot.numbers->centre_mm - applied.value_or(Vector2d::Zero());
    largest = {&slot, mm, kCoverage * map.sigma_mm(seen)};
  }
  return largest;
}

std::string figure_text(const std::string& name, const Figure& figure, double factor, const std::string& unit) {
  return name + " " + signed_text(factor * figure.value, 3) + unit + " +/- " + fixed_text(factor * figure.u95, 3) +
         unit;
}

bool significant(const MachineFigures& figures) {
  const auto beyond = [](const Figure& figure) { return std::abs(figure.value) > figure.u95; };
  return beyond(figures.scale_x_less_y) || beyond(figures.squareness_deg);
}

std::string marks_text(const MachineFigures& figures) { return std::to_string(figures.marks) + " burned marks"; }

}  // namespace

void apply_machine(CheckResult& result) {
  if (!result.machine || result.machine_applied) throw std::logic_error("apply_machine: nothing to apply");
  for (SlotResult& slot : result.slots)
    if (slot.numbers) correct(slot, result.machine->map);
  result.machine_applied = true;
}

std::string figures_text(const MachineFigures& figures) {
  std::string out;
  if (figures.scale_x) out += figure_text("scale along X", *figures.scale_x, 100.0, " %") + ", ";
  if (figures.scale_y) out += figure_text("scale along Y", *figures.scale_y, 100.0, " %") + ", ";
  return out + figure_text("scale along X less Y", figures.scale_x_less_y, 100.0, " %") + ", " +
         figure_text("angle from X to Y less 90 deg", figures.squareness_deg, 1.0, " deg") + ", rest " +
         fixed_text(figures.rest_mm, 3) + " mm";
}

std::string machine_note(const CheckResult& result) {
  if (!result.machine) return {};
  const MachineFigures& figures = result.machine->figures;
  const std::string measured = "Measured by " + marks_text(figures) + ": " + figures_text(figures) + ".";
  const Largest largest = largest_correction(result);
  std::string most;
  if (largest.slot != nullptr)
    most = fixed_text(largest.mm, 3) + " mm +/- " + fixed_text(largest.u_mm, 3) + " mm (slot " + largest.slot->id + ")";
  if (!significant(figures)) {
    if (!result.machine_applied) return {};
    return "The machine's own errors are smaller than the uncertainty they were measured with, so nothing was "
           "corrected. " +
           measured;
  }
  if (!result.machine_applied)
    return "The machine's own errors are known and were not applied (--apply-machine does)" +
           (most.empty() ? std::string() : ": left alone they put a design off by up to " + most) + ". " + measured;
  return "The machine's own errors were applied: every place and angle is what the machine must be told so that the "
         "beam "
         "lands on the blank, not where the camera saw it. " +
         (most.empty() ? std::string() : "The largest correction is " + most + ", which the half-widths contain. ") +
         measured + " Designs keep their size and shape.";
}

}  // namespace jigtrue
