#include "jigtrue/layout/placement.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/measurement/readiness.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>

namespace jigtrue {

namespace {

constexpr double kMargin_mm = 10.0;

std::array<Vector2d, 4> box_corners(const Vector2d& centre, double axis_deg, const DesignBox& box) {
  const double angle = rad_from_deg(axis_deg);
  const Vector2d along = unit_vector(angle) * (box.width_mm / 2.0);
  const Vector2d across = turned_left(unit_vector(angle)) * (box.height_mm / 2.0);
  return {centre - along - across, centre + along - across, centre + along + across, centre - along + across};
}

// A span of bed coordinates that holds the origin, with a margin on the sides that reach away from it, in whole mm.
struct Span {
  double low = 0.0;
  double high = 0.0;
  void hold(double value) {
    low = std::min(low, value);
    high = std::max(high, value);
  }
  void pad() {
    if (low < 0.0) low = std::floor(low - kMargin_mm);
    if (high > 0.0) high = std::ceil(high + kMargin_mm);
    if (high - low < kMargin_mm) high = low + kMargin_mm;  // a page with no extent cannot be opened
  }
};

Page page_around(const CheckResult& result) {
  Span x;
  Span y;
  const auto hold = [&x, &y](const Vector2d& point) {
    x.hold(point.x());
    y.hold(point.y());
  };
  for (const SlotResult& slot : result.slots) {
    hold(slot.nominal_centre_mm);
    if (slot.numbers) hold(slot.numbers->centre_mm);
    if (!slot.design) continue;
    for (const Vector2d& corner : box_corners(slot.nominal_centre_mm, slot.nominal_axis_deg, *slot.design))
      hold(corner);
    if (!slot.numbers) continue;
    for (const Vector2d& corner : box_corners(slot.numbers->centre_mm, slot.numbers->axis_deg, *slot.design))
      hold(corner);
  }
  x.pad();
  y.pad();
  return {{x.high - x.low, y.high - y.low}, {x.low, y.low}};
}

std::string unique_xml_id(const std::string& slot_id, std::set<std::string>& taken) {
  const std::string base = "slot-" + xml_name(slot_id);
  std::string id = base;
  for (int n = 2; !taken.insert(id).second; ++n) id = base + "-" + std::to_string(n);
  return id;
}

double rounded(double value, double per_unit) { return std::round(value * per_unit) / per_unit; }

// How far a design reaches beyond each edge of the bed, as it would be told; empty when it stays on it.
std::string beyond_bed(const Page& page, const SlotNumbers& numbers, const std::optional<DesignBox>& design) {
  InkBox box;
  for (const Vector2d& corner : box_corners(numbers.centre_mm, numbers.axis_deg, design.value_or(DesignBox{})))
    box.hold(page.from_bed(corner));
  std::string list;
  const auto edge = [&list](double lacks_mm, const char* name) {
    constexpr double kSlack_mm = 0.0005;  // half of the last written digit: a box that just touches the edge is inside
    if (lacks_mm <= kSlack_mm) return;
    list += (list.empty() ? "" : " and ") + fixed_text(std::ceil(lacks_mm * 10.0 - 0.005) / 10.0, 1) +
            " mm beyond the " + name;
  };
  edge(-box.low.x(), "left edge");
  edge(box.high.x() - page.size_mm.x(), "right edge");
  edge(-box.low.y(), "back edge");
  edge(box.high.y() - page.size_mm.y(), "front edge");
  return list;
}

}  // namespace

std::optional<std::string> why_left_out(const SlotResult& slot) {
  if (slot.state != SlotState::found) return std::string(to_string(slot.state));
  if (!slot.numbers) return std::string("no numbers");
  const std::vector<Obstacle> in_the_way = obstacles(slot);
  if (!in_the_way.empty()) return in_the_way.front().text();
  return std::nullopt;
}

Page page_for(const CheckResult& result, const std::optional<Machine>& machine) {
  if (machine) return {machine->bed_mm, machine->front_left_mm()};
  return page_around(result);
}

std::string page_caution(const Page& page) {
  return "The layout's page is not the machine's bed: it is " + fixed_text(page.size_mm.x(), 0) + " x " +
         fixed_text(page.size_mm.y(), 0) + " mm, its lower left corner belongs at bed X " +
         fixed_text(page.lower_left_mm.x(), 0) + ", Y " + fixed_text(page.lower_left_mm.y(), 0) +
         " mm. Import it by that corner, or name the machine (--machine, or \"machine\" in fixture.json): then the "
         "page "
         "is the bed.";
}

std::string page_caution(const CheckResult& result, const std::optional<Machine>& machine) {
  return machine ? std::string() : page_caution(page_for(result, machine));
}

Placement place_designs(const CheckResult& result, const std::optional<Machine>& machine, const DesignArt& art) {
  Placement placement;
  placement.page = page_for(result, machine);
  placement.machine_applied = result.machine_applied;
  std::set<std::string> taken;
  for (const SlotResult& slot : result.slots) {
    const std::string xml_id = unique_xml_id(slot.id, taken);  // for all, so that it does not hang on who is left out
    if (const auto reason = why_left_out(slot)) {
      placement.left_out.push_back({slot.id, *reason});
      continue;
    }
    if (!art.empty() && art.of(slot.id) == nullptr) {
      placement.left_out.push_back({slot.id, "no artwork for it"});
      continue;
    }
    const Vector2d centre(rounded(slot.numbers->centre_mm.x(), 1e3), rounded(slot.numbers->centre_mm.y(), 1e3));
    const double axis_deg = rounded(slot.numbers->axis_deg, 1e4);
    placement.placed.push_back(
        {slot.id, xml_id, placement.page.from_bed(centre), -axis_deg, slot.design, centre, axis_deg, art.of(slot.id)});
  }
  return placement;
}

void judge_on_bed(CheckResult& result, const Machine& machine) {
  const Page page = page_for(result, machine);
  for (SlotResult& slot : result.slots) {
    if (slot.state != SlotState::found || !slot.numbers) continue;
    const std::string beyond = beyond_bed(page, *slot.numbers, slot.design);
    if (beyond.empty()) continue;
    slot.design_fits = false;
    slot.design_note = "the design reaches " + beyond + " of the bed (" + fixed_text(machine.bed_mm.x(), 0) + " x " +
                       fixed_text(machine.bed_mm.y(), 0) +
                       " mm): move the fixture inwards, or mend bed_mm or origin_corner (" +
                       to_string(machine.origin_corner) + ") of the machine file";
  }
}

}  // namespace jigtrue
