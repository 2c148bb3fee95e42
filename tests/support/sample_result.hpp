// An invented answer to a photo, for the tests of what is written from one. Eight slots in every kind of state, seen by
// a camera that looks straight down: px = (200 + 4 X, 1500 - 4 Y), turned by nothing, so that a test can redo it by
// hand.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <cmath>
#include <string>
#include <vector>

namespace jigtrue::test {

struct FlatView {
  double px_per_mm = 4.0;
  double turn_deg = 0.0;  // of the bed in the picture, clockwise as seen
  Vector2d origin_px = {200.0, 1500.0};

  [[nodiscard]] Vector2d px(const Vector2d& bed_mm) const {
    const double a = rad_from_deg(turn_deg);
    const Vector2d flat(px_per_mm * bed_mm.x(), -px_per_mm * bed_mm.y());
    return origin_px +
           Vector2d(std::cos(a) * flat.x() - std::sin(a) * flat.y(), std::sin(a) * flat.x() + std::cos(a) * flat.y());
  }
};

inline Polyline2d box_px(const FlatView& view, const Vector2d& centre, double axis_deg, double width, double height) {
  const double a = rad_from_deg(axis_deg);
  const Vector2d u = Vector2d(std::cos(a), std::sin(a)) * width / 2.0;
  const Vector2d v = Vector2d(-std::sin(a), std::cos(a)) * height / 2.0;
  return {view.px(centre - u - v), view.px(centre + u - v), view.px(centre + u + v), view.px(centre - u + v)};
}

inline SlotResult blank_slot(const FlatView& view, const std::string& id, const Vector2d& centre,
                             double axis_deg = 0.0) {
  SlotResult slot;
  slot.id = id;
  slot.nominal_centre_mm = centre;
  slot.nominal_axis_deg = axis_deg;
  slot.design = DesignBox{75.9, 5.0};
  slot.sketch.outline = {box_px(view, centre, axis_deg, 138.0, 11.0)};
  slot.sketch.nominal_design_box = box_px(view, centre, axis_deg, 75.9, 5.0);
  const double a = rad_from_deg(axis_deg);
  const Vector2d u = Vector2d(std::cos(a), std::sin(a)) * 69.0;
  slot.sketch.nominal_centreline = {view.px(centre - u), view.px(centre + u)};
  slot.sketch.label_px = view.px(centre + 1.15 * u);
  return slot;
}

inline SlotResult measured_slot(const FlatView& view, const std::string& id, const Vector2d& nominal,
                                const Vector2d& offset, double rotation_deg, double axis_deg = 0.0) {
  SlotResult slot = blank_slot(view, id, nominal, axis_deg);
  slot.state = SlotState::found;
  const double a = rad_from_deg(axis_deg);
  SlotNumbers n;
  n.centre_mm = nominal + offset;
  n.offset_mm = offset;
  n.axis_deg = axis_deg + rotation_deg;
  n.rotation_deg = rotation_deg;
  n.along_mm = std::cos(a) * offset.x() + std::sin(a) * offset.y();
  n.across_mm = -std::sin(a) * offset.x() + std::cos(a) * offset.y();
  n.diameter_mm = 11.02;
  n.uncertainty = {0.95, 0.05, 0.2, 0.03, 0.06};
  n.budget = {{"edges", 0.008, 0.03, 0.006},        {"limb", 0.011, 0.0, 0.002},
              {"seat height", 0.012, 0.004, 0.001}, {"diameter tolerance", 0.006, 0.085, 0.001},
              {"lens", 0.013, 0.02, 0.011},         {"pose", 0.01, 0.011, 0.008}};
  slot.usable_band_mm = 6.0;
  slot.design_fits = true;
  const double m = rad_from_deg(n.axis_deg);
  const Vector2d u = Vector2d(std::cos(m), std::sin(m)) * 69.0;
  slot.sketch.outline = {box_px(view, n.centre_mm, n.axis_deg, 138.0, 11.0)};
  slot.sketch.centreline = {view.px(n.centre_mm - u), view.px(n.centre_mm + u)};
  slot.sketch.design_box = box_px(view, n.centre_mm, n.axis_deg, 75.9, 5.0);
  slot.numbers = n;
  return slot;
}

inline CheckResult sample_result(const FlatView& view = {}) {
  CheckResult result;
  result.photo_file = "bench.jpg";
  result.fixture_name = "eight pens (invented)";
  result.width_px = 1800;
  result.height_px = 1600;
  result.slots.push_back(measured_slot(view, "1", {200, 150}, {0.8212, 0.4948}, -0.18));
  result.slots.push_back(measured_slot(view, "2", {200, 175}, {0.9004, 0.5896}, -0.18));
  result.slots.push_back(measured_slot(view, "3", {200, 200}, {-1.0288, 0.1261}, -0.18));
  result.slots.back().state = SlotState::mismatch;
  result.slots.back().reasons = {"diameter 9.6 mm, not 11.0 mm"};
  result.slots.back().design_fits.reset();
  result.slots.push_back(measured_slot(view, "4", {200, 225}, {-1.9920, 0.6879}, -0.18));
  result.slots.back().design_fits = false;
  result.slots.back().usable_band_mm = 4.2;
  result.slots.back().design_note = "the design is 5.0 mm high, the band takes 4.2 mm; make it 0.8 mm lower";
  result.slots.push_back(blank_slot(view, "5", {200, 250}));
  result.slots.back().state = SlotState::empty;
  result.slots.back().reasons = {"no blank there"};
  result.slots.push_back(blank_slot(view, "6", {200, 275}));
  result.slots.back().state = SlotState::doubtful;
  result.slots.back().reasons = {"glare hides both flanks over 70 % of the length"};
  result.slots.back().remedy = "turn the lamp away";
  result.slots.push_back(measured_slot(view, "7", {200, 300}, {0.0, 0.5237}, 0.42));
  result.slots.back().numbers->along_mm.reset();
  result.slots.back().numbers->uncertainty.along_mm.reset();
  result.slots.push_back(measured_slot(view, "8", {300, 225}, {0.31, -0.22}, 0.05, 90.0));
  result.slots.back().numbers->diameter_mm.reset();
  result.slots.back().numbers->uncertainty.diameter_mm.reset();
  result.placement = FixturePlacement{{0.6, -0.4}, 0.2, "slots", 0.08, 0.04};
  result.witness = WitnessFinding{4, 4, 0.42, 0.09};
  result.notes = {"The photo is a little dark; the measurement allows for it."};
  return result;
}

}  // namespace jigtrue::test
