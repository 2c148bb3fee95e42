#include "jigtrue/report/read_report.hpp"

#include "jigtrue/base/error.hpp"

#include <cmath>
#include <set>

#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using nlohmann::json;

constexpr std::size_t kMaxBytes = 32u << 20;
constexpr std::size_t kMaxSlots = 2000;
constexpr double kLargest = 1e5;
constexpr const char* kRemedy = "give the report.json that jigtrue check wrote, unchanged";

// One object of the file, with its name for messages.
class Part {
 public:
  Part(const json& value, std::string where) : value_(value), where_(std::move(where)) {
    if (!value_.is_object()) throw error("is not an object");
  }

  [[nodiscard]] InputError error(const std::string& what) const { return input_error(where_, what, kRemedy); }

  [[nodiscard]] const json* find(const char* name) const {
    const auto found = value_.find(name);
    return found == value_.end() || found->is_null() ? nullptr : &*found;
  }

  [[nodiscard]] std::optional<double> number(const char* name) const {
    const json* found = find(name);
    if (found == nullptr) return std::nullopt;
    return checked(*found, name);
  }

  [[nodiscard]] double must(const char* name) const {
    const auto value = number(name);
    if (!value) throw error(std::string(name) + " is missing");
    return *value;
  }

  [[nodiscard]] std::optional<Vector2d> pair(const char* name) const {
    const json* found = find(name);
    if (found == nullptr) return std::nullopt;
    if (!found->is_array() || found->size() != 2) throw error(std::string(name) + " is not two numbers");
    return Vector2d(checked((*found)[0], name), checked((*found)[1], name));
  }

  [[nodiscard]] std::string text(const char* name) const {
    const json* found = find(name);
    if (found == nullptr) return {};
    if (!found->is_string()) throw error(std::string(name) + " is not a text");
    return found->get<std::string>();
  }

  [[nodiscard]] std::optional<bool> yes(const char* name) const {
    const json* found = find(name);
    if (found == nullptr) return std::nullopt;
    if (!found->is_boolean()) throw error(std::string(name) + " is neither true nor false");
    return found->get<bool>();
  }

  [[nodiscard]] std::optional<Part> part(const char* name) const {
    const json* found = find(name);
    if (found == nullptr) return std::nullopt;
    return Part(*found, where_ + "." + name);
  }

  [[nodiscard]] std::vector<std::string> texts(const char* name) const {
    std::vector<std::string> out;
    const json* found = find(name);
    if (found == nullptr) return out;
    if (!found->is_array()) throw error(std::string(name) + " is not a list");
    for (const json& item : *found) {
      if (!item.is_string()) throw error(std::string(name) + " holds something that is not a text");
      out.push_back(item.get<std::string>());
    }
    return out;
  }

 private:
  [[nodiscard]] double checked(const json& value, const char* name) const {
    const double number = value.is_number() ? value.get<double>() : std::nan("");
    if (!(std::abs(number) <= kLargest)) throw error(std::string(name) + " is not a number within bounds");
    return number;
  }

  const json& value_;
  std::string where_;
};

SlotState state_of(const Part& slot) {
  const std::string name = slot.text("state");
  for (const SlotState state : {SlotState::found, SlotState::empty, SlotState::mismatch, SlotState::doubtful})
    if (name == to_string(state)) return state;
  throw slot.error("state is none of found, empty, mismatch, doubtful");
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
  if (!u) throw slot.error("uncertainty is missing");
  n.uncertainty.coverage = u->number("coverage").value_or(0.95);
  n.uncertainty.across_mm = u->must("across_mm");
  n.uncertainty.along_mm = u->number("along_mm");
  n.uncertainty.rotation_deg = u->number("rotation_deg").value_or(0.0);
  n.uncertainty.diameter_mm = u->number("diameter_mm");
  if (n.uncertainty.across_mm < 0.0) throw slot.error("uncertainty.across_mm is negative");
  return n;
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

SlotResult slot_of(const json& value, const std::string& file, std::size_t index) {
  const std::string where = file + ": slots[" + std::to_string(index) + "]";
  const Part part(value, where);
  SlotResult slot;
  slot.id = part.text("id");
  if (slot.id.empty()) throw part.error("has no id");
  slot.state = state_of(part);
  slot.reasons = part.texts("reasons");
  slot.remedy = part.text("remedy");
  slot.numbers = numbers_of(part);
  if (slot.state == SlotState::found && !slot.numbers) throw part.error("is found but carries no numbers");
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
  // the note of the design then declared stands among the reasons, too; the next design is judged anew
  if (!slot.design_note.empty()) std::erase(slot.reasons, slot.design_note);
  return slot;
}

json parsed(const std::string& text, const std::string& file) {
  if (text.size() > kMaxBytes) throw input_error(file, "is larger than 32 MB", kRemedy);
  try {
    return json::parse(text);
  } catch (const json::exception&) {
    throw input_error(file, "is not valid JSON", kRemedy);
  }
}

}  // namespace

CheckResult read_report(const std::string& json_text, const std::string& file_name) {
  const json document = parsed(json_text, file_name);
  const Part root(document, file_name);
  if (root.text("schema") != "jigtrue.report/1") throw root.error("is no report (schema is not jigtrue.report/1)");
  CheckResult result;
  result.fixture_name = root.text("fixture_name");
  if (const auto photo = root.part("photo")) result.photo_file = photo->text("file");
  if (const json* machine = root.find("machine")) {
    result.machine = read_machine_reading(machine->dump(), file_name + ": machine", kRemedy);
    result.machine_applied = Part(*machine, file_name + ": machine").yes("applied").value_or(false);
  }
  const json* slots = root.find("slots");
  if (slots == nullptr || !slots->is_array() || slots->empty() || slots->size() > kMaxSlots)
    throw root.error("slots is not a list of 1 to 2000 slots");
  std::set<std::string> ids;
  for (std::size_t i = 0; i < slots->size(); ++i) {
    result.slots.push_back(slot_of((*slots)[i], file_name, i));
    if (!ids.insert(result.slots.back().id).second)
      throw input_error(file_name + ": slots[" + std::to_string(i) + "]", "its id is given twice", kRemedy);
  }
  return result;
}

}  // namespace jigtrue
