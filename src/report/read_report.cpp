#include "jigtrue/report/read_report.hpp"

#include "jigtrue/json/json_file.hpp"
#include "jigtrue/measurement/readiness.hpp"
#include "jigtrue/report/beam_files.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <set>

namespace jigtrue {
namespace {

constexpr JsonForm kReportForm{"a report", "jigtrue.report/1",
                               "give the report.json that jigtrue check wrote, unchanged"};
constexpr std::size_t kMaxParts = 100;
constexpr double kLargest = 1e5;
constexpr JsonRange kReportNumber{-kLargest, kLargest, ""};

// Fields of one object that may be absent or null.
class Part {
 public:
  explicit Part(const JsonField& field) : field_(field) { field.require_object(); }

  [[nodiscard]] std::optional<double> number(const char* name) const {
    const auto found = field_.given(name);
    return found ? std::optional(found->number(kReportNumber)) : std::nullopt;
  }
  [[nodiscard]] double must(const char* name) const {
    const auto value = number(name);
    if (!value) throw field_.missing(name);
    return *value;
  }
  [[nodiscard]] std::optional<Vector2d> pair(const char* name) const {
    const auto found = field_.given(name);
    if (!found) return std::nullopt;
    found->require_list(2, 2);
    return Vector2d((*found)[0].number(kReportNumber), (*found)[1].number(kReportNumber));
  }
  [[nodiscard]] std::string text(const char* name) const {
    const auto found = field_.given(name);
    return found ? found->text() : std::string();
  }
  [[nodiscard]] std::optional<bool> yes(const char* name) const {
    const auto found = field_.given(name);
    return found ? std::optional(found->yes()) : std::nullopt;
  }
  [[nodiscard]] std::vector<Part> parts(const char* name) const {
    std::vector<Part> out;
    const auto found = field_.given(name);
    if (!found) return out;
    found->require_list(0, kMaxParts);
    for (std::size_t i = 0; i < found->size(); ++i) out.emplace_back((*found)[i]);
    return out;
  }
  [[nodiscard]] std::optional<Matrix3d> matrix(const char* name) const {
    const auto found = field_.given(name);
    if (!found) return std::nullopt;
    found->require_list(9, 9);
    Matrix3d map;
    for (int i = 0; i < 9; ++i) map(i / 3, i % 3) = (*found)[static_cast<std::size_t>(i)].number();
    return map;
  }
  [[nodiscard]] std::vector<std::string> texts(const char* name) const {
    const auto found = field_.given(name);
    return found ? found->texts() : std::vector<std::string>();
  }
  [[nodiscard]] std::optional<Part> part(const char* name) const {
    const auto found = field_.given(name);
    return found ? std::optional(Part(*found)) : std::nullopt;
  }
  [[nodiscard]] const JsonField& field() const { return field_; }

 private:
  JsonField field_;
};

SlotState state_of(const Part& slot) {
  const std::string name = slot.text("state");
  for (const SlotState state : {SlotState::found, SlotState::empty, SlotState::mismatch, SlotState::doubtful})
    if (name == to_string(state)) return state;
  throw slot.field().at("state").error("must be found, empty, mismatch or doubtful");
}

std::vector<BudgetShare> budget_of(const Part& slot) {
  std::vector<BudgetShare> budget;
  for (const Part& share : slot.parts("budget"))
    budget.push_back({share.text("name"), share.must("across_mm"), share.must("along_mm"), share.must("rotation_deg")});
  return budget;
}

Need need_of(const Part& root) {
  Need need;
  const auto part = root.part("need");
  if (!part) return need;
  need.across_mm = part->number("across_mm").value_or(need.across_mm);
  need.along_mm = part->number("along_mm").value_or(need.along_mm);
  need.turn_deg = part->number("turn_deg").value_or(need.turn_deg);
  return need;
}

std::optional<SlotNumbers> numbers_of(const Part& slot) {
  const auto centre = slot.pair("centre_mm");
  if (!centre) return std::nullopt;
  SlotNumbers n;
  n.centre_mm = *centre;
  n.axis_deg = slot.must("axis_deg");
  n.offset_mm = slot.pair("offset_mm").value_or(Vector2d::Zero());
  n.across_mm = slot.must("across_mm");
  n.along_mm = slot.number("along_mm");
  n.rotation_deg = slot.must("rotation_deg");
  n.diameter_mm = slot.number("diameter_mm");
  n.machine_correction_mm = slot.pair("machine_correction_mm");
  const auto u = slot.part("uncertainty");
  if (!u) throw slot.field().missing("uncertainty");
  n.uncertainty.coverage = u->number("coverage").value_or(0.95);
  n.uncertainty.across_mm = u->must("across_mm");
  n.uncertainty.along_mm = u->number("along_mm");
  n.uncertainty.rotation_deg = u->number("rotation_deg").value_or(0.0);
  n.uncertainty.diameter_mm = u->number("diameter_mm");
  n.budget = budget_of(slot);
  if (n.uncertainty.across_mm < 0.0) throw u->field()["across_mm"].error("must not be negative");
  return n;
}

// "x,y x,y ...": nothing where a report of an older version has none.
Polyline2d points_of(const Part& part, const std::string& text) {
  Polyline2d line;
  const char* at = text.data();
  const char* end = at + text.size();
  while (at < end) {
    Vector2d point;
    for (const int axis : {0, 1}) {
      const auto [rest, code] = std::from_chars(at, end, point[axis]);
      const char sign = axis == 0 ? ',' : ' ';
      if (code != std::errc() || !(std::abs(point[axis]) <= kLargest) || (rest != end && *rest != sign) ||
          (rest == end && axis == 0))
        throw part.field().error("holds points that cannot be read");
      at = rest == end ? rest : rest + 1;
    }
    line.push_back(point);
  }
  return line;
}

SlotSketch sketch_of(const Part& slot) {
  SlotSketch sketch;
  const auto part = slot.part("sketch_px");
  if (!part) return sketch;
  const auto line = [&](const char* name) { return points_of(*part, part->text(name)); };
  for (const std::string& piece : part->texts("outline")) sketch.outline.push_back(points_of(*part, piece));
  sketch.centreline = line("centreline");
  sketch.nominal_centreline = line("nominal_centreline");
  sketch.design_box = line("design_box");
  sketch.nominal_design_box = line("nominal_design_box");
  sketch.band = line("band");
  if (const Polyline2d label = line("label"); !label.empty()) sketch.label_px = label.front();
  sketch.photo_from_design = part->matrix("photo_from_design");
  return sketch;
}

int count_of(const std::optional<double>& value) {
  return value ? static_cast<int>(std::clamp(*value, 0.0, kLargest)) : 0;
}

// What the page says of the photo, the camera and the fixture.
void read_whole(const Part& root, CheckResult& result) {
  if (const auto photo = root.part("photo")) {
    result.photo_file = photo->text("file");
    result.photo_digest = photo->text("digest");
    if (const auto size = photo->pair("image_size_px")) {
      result.width_px = count_of(size->x());
      result.height_px = count_of(size->y());
    }
    if (const auto seen = photo->part("bed_directions"))
      result.directions =
          BedDirections{seen->pair("x").value_or(Vector2d(1.0, 0.0)), seen->pair("y").value_or(Vector2d(0.0, -1.0))};
  }
  if (const auto fixture = root.part("fixture")) {
    FixturePlacement placement;
    placement.shift_mm = fixture->pair("shift_mm").value_or(Vector2d::Zero());
    placement.turn_deg = fixture->number("turn_deg").value_or(0.0);
    placement.from = fixture->text("from");
    if (const auto u = fixture->part("uncertainty")) {
      placement.shift_u_mm = u->number("shift_mm").value_or(0.0);
      placement.turn_u_deg = u->number("turn_deg").value_or(0.0);
    }
    result.placement = placement;
  }
  if (const auto marks = root.part("witness"))
    result.witness =
        WitnessFinding{count_of(marks->number("seen")), count_of(marks->number("kept")),
                       marks->number("largest_px").value_or(0.0), marks->number("largest_mm").value_or(0.0)};
  result.self_located = root.yes("self_located").value_or(false);
  result.notes = root.texts("notes");
}

// The contract's fields alone tell the band with the uncertainty taken off, and nothing of the blank's length.
std::optional<DesignRoom> room_from_band(const SlotResult& slot) {
  if (!slot.numbers || !slot.usable_band_mm) return std::nullopt;
  DesignRoom room;
  room.u_across_mm = slot.numbers->uncertainty.across_mm;
  room.left_mm = room.right_mm = *slot.usable_band_mm / 2.0 + room.u_across_mm;
  room.forward_mm = room.backward_mm = kLargest;
  room.diameter_mm = slot.numbers->diameter_mm;
  return room;
}

std::optional<DesignRoom> room_of(const Part& slot, const SlotResult& result) {
  const auto part = slot.part("room");
  if (!part) return room_from_band(result);
  DesignRoom room;
  room.left_mm = part->must("left_mm");
  room.right_mm = part->must("right_mm");
  room.forward_mm = part->must("forward_mm");
  room.backward_mm = part->must("backward_mm");
  room.u_across_mm = part->must("u_across_mm");
  room.u_along_mm = part->must("u_along_mm");
  room.disc_radius_mm = part->number("disc_radius_mm");
  room.diameter_mm = part->number("diameter_mm");
  room.lean_deg = part->number("lean_deg").value_or(0.0);
  room.design_width_mm = part->number("design_width_mm").value_or(0.0);
  room.bound = part->text("bound");
  return room;
}

SlotResult slot_of(const JsonField& field, const Need& need) {
  const Part part(field);
  SlotResult slot;
  slot.need = need;
  slot.id = part.text("id");
  if (slot.id.empty()) throw field.missing("id");
  slot.state = state_of(part);
  slot.reasons = part.texts("reasons");
  slot.remedy = part.text("remedy");
  slot.numbers = numbers_of(part);
  if (slot.state == SlotState::found && !slot.numbers) throw field.error("is found but carries no numbers");
  slot.usable_band_mm = part.number("usable_band_mm");
  slot.design_fits = part.yes("design_fits");
  slot.design_note = part.text("design_note");
  if (const auto box = part.pair("design_mm")) slot.design = DesignBox{box->x(), box->y()};
  const Vector2d from_offset =
      slot.numbers ? Vector2d(slot.numbers->centre_mm - slot.numbers->offset_mm) : Vector2d(Vector2d::Zero());
  slot.nominal_centre_mm = part.pair("nominal_centre_mm").value_or(from_offset);
  slot.nominal_axis_deg = part.number("nominal_axis_deg")
                              .value_or(slot.numbers ? slot.numbers->axis_deg - slot.numbers->rotation_deg : 0.0);
  slot.room = room_of(part, slot);
  slot.sketch = sketch_of(part);
  // why it was not ready stands among the reasons, too; that is judged anew
  for (const Obstacle& obstacle : obstacles(slot)) std::erase(slot.reasons, obstacle.text());
  return slot;
}

}  // namespace

CheckResult read_report(const std::string& json_text, const std::string& file_name) {
  const JsonFile file(json_text, file_name, kReportForm);
  const Part root(file.checked_root());
  CheckResult result;
  result.fixture_name = root.text("fixture_name");
  read_whole(root, result);
  if (const auto machine = root.part("machine")) {
    result.machine = read_machine_reading(machine->field());
    result.machine_applied = machine->yes("applied").value_or(false);
  }
  result.beam_applied = read_applied_beam(root.field());
  const JsonField slots = root.field()["slots"];
  slots.require_list(1, kMostSlots);
  const Need need = need_of(root);
  std::set<std::string> ids;
  for (std::size_t i = 0; i < slots.size(); ++i) {
    result.slots.push_back(slot_of(slots[i], need));
    if (!ids.insert(result.slots.back().id).second) throw slots[i]["id"].error("is given twice");
  }
  return result;
}

std::optional<Machine> read_report_bed(const std::string& json_text, const std::string& file_name) {
  const JsonFile file(json_text, file_name, kReportForm);
  const auto bed = file.checked_root().given("bed");
  if (!bed) return std::nullopt;
  return read_machine(bed->dump(), file_name + ": bed");
}

}  // namespace jigtrue
