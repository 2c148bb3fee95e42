// Invented loads of an invented jig, for the record's tests.
#pragma once
#include "jigtrue/history/load_record.hpp"

#include <cmath>
#include <random>
#include <string>

namespace jigtrue::test {

inline Fixture two_slots() {
  Fixture fixture;
  fixture.name = "invented jig";
  for (int i = 0; i < 2; ++i) {
    Slot slot;
    slot.id = std::to_string(i + 1);
    slot.centre_mm = {200.0, 150.0 + 40.0 * i};
    slot.axis_deg = i == 0 ? 0.0 : 90.0;
    slot.blank.shape = RoundBlank{11.0, 138.0};
    slot.seat.kind = FloorSeat{3.0};
    fixture.slots.push_back(slot);
  }
  return fixture;
}

inline SlotResult found_in(const Slot& slot, double across, double along, double turn) {
  SlotResult result;
  result.id = slot.id;
  result.state = SlotState::found;
  result.nominal_centre_mm = slot.centre_mm;
  result.nominal_axis_deg = slot.axis_deg;
  const double a = rad_from_deg(slot.axis_deg);
  SlotNumbers n;
  n.offset_mm = along * Vector2d(std::cos(a), std::sin(a)) + across * Vector2d(-std::sin(a), std::cos(a));
  n.centre_mm = slot.centre_mm + n.offset_mm;
  n.across_mm = across;
  n.along_mm = along;
  n.rotation_deg = turn;
  n.uncertainty.across_mm = 0.06;
  result.numbers = n;
  return result;
}

inline CheckResult load(const Fixture& fixture, double across, double along, double turn) {
  CheckResult result;
  result.photo_file = "load \"one\"\n.jpg";
  result.fixture_name = fixture.name;
  for (const Slot& slot : fixture.slots) result.slots.push_back(found_in(slot, across, along, turn));
  result.witness = WitnessFinding{4, 4, 0.07, 0.014};
  return result;
}

inline CheckRecords loads(const Fixture& fixture, int count, double across, double spread, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal(0.0, spread);
  CheckRecords records;
  for (int i = 0; i < count; ++i)
    records.loads.push_back(
        load_record(load(fixture, across + normal(random), normal(random), 0.2 * normal(random)), fixture, ""));
  return records;
}

}  // namespace jigtrue::test
