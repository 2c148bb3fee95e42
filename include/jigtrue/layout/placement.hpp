// Which designs a layout holds, and where they lie on its page.
#pragma once
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/layout/machine.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// A page in true millimetres, its own origin at the upper left, x to the right, y DOWN (as SVG has it).
// Its lower-left corner is the machine's front-left corner when the machine is known. Otherwise the page reaches from
// the machine's own origin to beyond every slot and design, so that the origin is a corner of the page (unless slots
// lie on both sides of it): the layout then imports in place wherever the origin's corner is put on that corner.
struct Page {
  Vector2d size_mm = Vector2d::Zero();
  Vector2d lower_left_mm = Vector2d::Zero();  // bed frame

  [[nodiscard]] Vector2d from_bed(const Vector2d& bed_mm) const {
    return {bed_mm.x() - lower_left_mm.x(), size_mm.y() - (bed_mm.y() - lower_left_mm.y())};
  }
};
[[nodiscard]] Page page_for(const CheckResult& result, const std::optional<Machine>& machine);

// That the layout's page is not the bed, and how to import it then; empty when the machine is known.
[[nodiscard]] std::string page_caution(const CheckResult& result, const std::optional<Machine>& machine);
[[nodiscard]] std::string page_caution(const Page& page);

struct PlacedDesign {
  std::string slot_id;
  std::string xml_id;  // "slot-" and the id with all but letters, digits, '.', '_' and '-' replaced; unique
  Vector2d centre_mm = Vector2d::Zero();  // on the page, y down
  double turn_deg = 0.0;            // as SVG's rotate() takes it: clockwise as seen, so the negative of the bed's angle
  std::optional<DesignBox> design;  // absent: the slot declares none, its place is kept empty
  Vector2d bed_centre_mm = Vector2d::Zero();
  double axis_deg = 0.0;
  std::shared_ptr<const std::vector<Pass>> passes;  // null: the design's box stands for the artwork
};

struct LeftOut {
  std::string slot_id;
  std::string reason;  // one clause
};

// Why a slot is left out, in one clause; nothing when it is placed.
[[nodiscard]] std::optional<std::string> why_left_out(const SlotResult& slot);

// Only a slot that is ready is placed (measurement/readiness.hpp).
struct Placement {
  Page page;
  std::vector<PlacedDesign> placed;
  std::vector<LeftOut> left_out;
  bool machine_applied = false;  // the places are what the machine must be told, not where the camera saw the blanks
  bool proof = false;            // a frame on tape, to prove the place itself (proof.hpp)
};
// Places and angles are rounded to what the files say, 0.001 mm and 0.0001 degrees, so that all of them say the same.
[[nodiscard]] Placement place_designs(const CheckResult& result, const std::optional<Machine>& machine,
                                      const DesignArt& art = {});

// A design that reaches beyond the machine's bed does not fit, whatever room its blank has: design_fits and design_note
// of such slots say so, with the millimetres that each edge lacks. Call it last: when the slots' numbers are what the
// machine will be told, and after their designs were judged.
void judge_on_bed(CheckResult& result, const Machine& machine);

}  // namespace jigtrue
