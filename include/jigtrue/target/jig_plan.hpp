// A jig for the machine itself to make: a sheet with an opening for every slot, laid so that its fixture file measures
// it afterwards.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/layout/machine.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

struct SlotRows {
  int rows = 1;
  int columns = 1;                        // along the blanks
  std::optional<double> row_pitch_mm;     // needed for more than one row
  std::optional<double> column_pitch_mm;  // needed for more than one column
};
// Slots of one kind, lengthways along X, about the middle of the bed; ids "1", "2", ... from the front to the back and
// in a row from left to right. Throws InputError where a pitch is missing.
[[nodiscard]] std::vector<Slot> slots_in_rows(const Slot& kind, const SlotRows& rows, const Machine& machine);

struct JigFit {
  double play_mm = 0.3;  // between blank and opening, at each side and at its end
  double kerf_mm = 0.0;  // what the beam takes off: half of it on either side of a line
};

// What is cut out of the sheet for a slot, in the slot's frame (x along, y across). The wall at the blank's start is
// the stop: a blank pushed against it lies at the slot's nominal place.
struct JigOpening {
  std::string slot_id;
  Vector2d centre_mm = Vector2d::Zero();  // the slot's, bed frame
  double axis_deg = 0.0;
  Vector2d low_mm = Vector2d::Zero();  // the box that holds it
  Vector2d high_mm = Vector2d::Zero();
  double corner_radius_mm = 0.0;            // of that box; half its sides for a disc
  Polyline2d outline;                       // instead of the box, where it follows a profile; closed, not repeating
  Vector2d id_place_mm = Vector2d::Zero();  // the middle of its id, before the stop
};

struct JigPlan {
  std::string name;
  Machine machine;
  std::vector<JigOpening> openings;
  std::vector<Vector3d> marks_mm;      // bed frame
  bool own_marks = false;              // the fixture declares them
  Vector2d low_mm = Vector2d::Zero();  // the sheet's outline, bed frame
  Vector2d high_mm = Vector2d::Zero();
  double kerf_mm = 0.0;
  std::vector<std::string> notes;  // whole sentences: what carries the blanks, how thick the sheet is
};

inline constexpr double kJigMarkField_mm = 8.0;
inline constexpr double kJigIdWidth_mm = 7.0;  // at most

// The opening is the one through which a blank goes down to lie as its seat says: a groove's mouth, its outline and
// some play where a floor carries it, or, for axis_height_mm, the section that the sheet's top face cuts from it, on
// whose edges it then rests. Without marks of its own the fixture is given five, laid so unevenly that no turn of the
// sheet looks like another. Throws InputError where a slot has no top_mm or another one than the rest, where openings
// leave less than 2 mm between them, and where the sheet leaves the bed.
[[nodiscard]] JigPlan jig_plan(const Fixture& fixture, const Machine& machine, const JigFit& fit);

// The page is the bed, in true millimetres. Groups in the order of work, each of one colour: "marks" and "ids", filled,
// to be burned; "slots", then "sheet", thin lines to be cut.
[[nodiscard]] std::string jig_svg(const JigPlan& plan);

}  // namespace jigtrue
