#include "jigtrue/history/load_record.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/history/burn_record.hpp"
#include "jigtrue/history/two_photos.hpp"
#include "jigtrue/json/json_file.hpp"
#include "jigtrue/json/written_number.hpp"
#include "jigtrue/measurement/fixture_marks.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>

#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using Json = nlohmann::ordered_json;

constexpr JsonForm kLoadForm{"a load's record", "jigtrue.load/1"};
// nothing on any bench is larger; a damaged digit must not drown the other loads' means
constexpr JsonRange kLoadNumber{-1e5, 1e5, ""};

Json place_json(const Vector2d& v) { return Json::array({written_number(v.x()), written_number(v.y())}); }

int count(const JsonField& field) {
  const double value = field.number(kLoadNumber);
  if (value < 0.0 || value != std::floor(value)) field.fail("must be a count");
  return static_cast<int>(value);
}

Vector2d pair_of(const JsonField& field) { return {field[0].number(kLoadNumber), field[1].number(kLoadNumber)}; }

Json load_json(const SlotLoad& slot) {
  Json out;
  out["id"] = valid_utf8(slot.id);
  out["state"] = slot.state;
  out["nominal_mm"] = place_json(slot.nominal_mm);
  out["nominal_axis_deg"] = written_number(slot.nominal_axis_deg);
  if (!slot.measured) return out;
  out["across_mm"] = written_number(slot.across_mm);
  out["along_mm"] = slot.along_mm ? Json(written_number(*slot.along_mm)) : Json(nullptr);
  out["turn_deg"] = written_number(slot.turn_deg);
  out["u_across_mm"] = written_number(slot.u_across_mm);
  if (slot.u_along_mm) out["u_along_mm"] = written_number(*slot.u_along_mm);
  if (slot.u_turn_deg) out["u_turn_deg"] = written_number(*slot.u_turn_deg);
  return out;
}

SlotLoad load_slot(const JsonField& field) {
  SlotLoad slot;
  slot.id = field["id"].text();
  slot.state = field["state"].text();
  slot.nominal_mm = pair_of(field["nominal_mm"]);
  slot.nominal_axis_deg = field["nominal_axis_deg"].number(kLoadNumber);
  if (!field.has("across_mm")) return slot;
  slot.measured = true;
  slot.across_mm = field["across_mm"].number(kLoadNumber);
  if (const JsonField along = field["along_mm"]; !along.is_null()) slot.along_mm = along.number(kLoadNumber);
  slot.turn_deg = field["turn_deg"].number(kLoadNumber);
  slot.u_across_mm = field["u_across_mm"].number(kLoadNumber);
  if (const auto u = field.given("u_along_mm")) slot.u_along_mm = u->number(kLoadNumber);
  if (const auto u = field.given("u_turn_deg")) slot.u_turn_deg = u->number(kLoadNumber);
  return slot;
}

LoadRecord load_of(const JsonField& root) {
  LoadRecord load;
  load.time = root["time"].text();
  load.photo = root["photo"].text();
  if (const auto digest = root.given("digest")) load.digest = digest->text();
  load.fixture = root["fixture"].text();
  load.self_located = root["self_located"].yes();
  if (const JsonField w = root["witness"]; !w.is_null())
    load.witness = WitnessFinding{count(w["seen"]), count(w["kept"]), w["largest_px"].number(kLoadNumber),
                                  w["largest_mm"].number(kLoadNumber)};
  if (const JsonField p = root["placement"]; !p.is_null()) {
    FixturePlacement placement;
    placement.shift_mm = pair_of(p["shift_mm"]);
    placement.turn_deg = p["turn_deg"].number(kLoadNumber);
    placement.from = p["from"].text();
    placement.shift_u_mm = p["u_mm"].number(kLoadNumber);
    placement.turn_u_deg = p["u_deg"].number(kLoadNumber);
    load.placement = placement;
  }
  const JsonField slots = root["slots"];
  for (std::size_t i = 0; i < slots.size(); ++i) load.slots.push_back(load_slot(slots[i]));
  return load;
}

// How far two numbers of one load may lie apart.
struct Apart {
  double across_mm = 0.0;
  double along_mm = 0.0;
  double turn_deg = 0.0;
};
constexpr Apart kTwoPhotos{0.02, 0.05, 0.02};  // a third of what good checks state: different loads differ by more
constexpr Apart kWritten{1e-4, 1e-4, 1e-4};    // as numbers are written

bool same_place(const SlotLoad& a, const SlotLoad& b, const Apart& apart) {
  if (!a.measured) return true;
  return (a.nominal_mm - b.nominal_mm).norm() <= apart.across_mm &&
         std::abs(a.across_mm - b.across_mm) <= apart.across_mm &&
         std::abs(a.along_mm.value_or(0.0) - b.along_mm.value_or(0.0)) <= apart.along_mm &&
         std::abs(a.turn_deg - b.turn_deg) <= apart.turn_deg;
}

bool same_slots(const LoadRecord& a, const LoadRecord& b) {
  return std::equal(a.slots.begin(), a.slots.end(), b.slots.begin(), b.slots.end(),
                    [](const SlotLoad& one, const SlotLoad& other) {
                      return one.id == other.id && one.measured == other.measured && one.state == other.state &&
                             one.along_mm.has_value() == other.along_mm.has_value() &&
                             (one.nominal_mm - other.nominal_mm).norm() <= kTwoPhotos.across_mm;
                    });
}

bool has_half_widths(const LoadRecord& load) {
  return std::all_of(load.slots.begin(), load.slots.end(),
                     [](const SlotLoad& slot) { return !slot.measured || slot.u_turn_deg; });
}

bool lie_alike(const LoadRecord& a, const LoadRecord& b) {
  // however wide the half-widths are: two loads of a jig with stops lie apart by little more
  constexpr Apart kMost{0.08, 0.15, 0.15};
  const auto half = [](const std::optional<double>& u, double most) {
    return u ? std::optional(std::min(*u, most)) : std::nullopt;
  };
  TwoPhotos photos;
  for (std::size_t i = 0; i < a.slots.size(); ++i) {
    const SlotLoad& one = a.slots[i];
    const SlotLoad& other = b.slots[i];
    if (!one.measured) continue;
    photos.add(one.across_mm, other.across_mm, half(one.u_across_mm, kMost.across_mm),
               half(other.u_across_mm, kMost.across_mm));
    photos.add(one.along_mm, other.along_mm, half(one.u_along_mm, kMost.along_mm),
               half(other.u_along_mm, kMost.along_mm));
    photos.add(one.turn_deg, other.turn_deg, half(one.u_turn_deg, kMost.turn_deg),
               half(other.u_turn_deg, kMost.turn_deg));
  }
  // Copies at quality 70 or better, without colour, or made smaller and enlarged lie up to 0.38 apart (traced scenes).
  // A jig with stops may hold two loads nearly as alike, so no more is allowed.
  constexpr double kCopies = 0.4;
  return photos.apart().value_or(1.0) <= kCopies;
}

void add_once(CheckRecords& records, LoadRecord load) {
  const auto before = std::find_if(records.loads.begin(), records.loads.end(),
                                   [&](const LoadRecord& each) { return same_load(each, load); });
  if (before == records.loads.end()) {
    records.loads.push_back(std::move(load));
    return;
  }
  ++records.repeated;
  *before = std::move(load);
}

}  // namespace

bool same_load(const LoadRecord& a, const LoadRecord& b) {
  if (a.fixture != b.fixture) return false;
  if (!a.digest.empty() && a.digest == b.digest) return true;
  if (!same_slots(a, b)) return false;
  constexpr std::ptrdiff_t kEnough = 3;  // slots measured alike make two records one load's
  const auto measured =
      std::count_if(a.slots.begin(), a.slots.end(), [](const SlotLoad& slot) { return slot.measured; });
  if (measured == 0) return false;
  if (measured >= kEnough && has_half_widths(a) && has_half_widths(b)) return lie_alike(a, b);
  const Apart apart = measured >= kEnough ? kTwoPhotos : kWritten;
  return std::equal(a.slots.begin(), a.slots.end(), b.slots.begin(),
                    [&](const SlotLoad& one, const SlotLoad& other) { return same_place(one, other, apart); });
}

LoadRecord load_record(const CheckResult& result, const Fixture& fixture, const std::string& time) {
  LoadRecord load;
  load.time = time;
  load.photo = result.photo_file;
  load.digest = result.photo_digest;
  load.fixture = result.fixture_name;
  load.self_located = result.self_located;
  load.witness = result.witness;
  load.placement = result.placement;
  const bool marked = result.placement && result.placement->from == "marks";
  const FixturePlacement placement = marked ? *result.placement : FixturePlacement{};
  const Vector2d centre = common_centre_mm(fixture);
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    const SlotResult& slot = result.slots[i];
    SlotLoad own;
    own.id = slot.id;
    own.state = to_string(slot.state);
    own.nominal_mm = fixture.slots[i].centre_mm;
    own.nominal_axis_deg = slot.nominal_axis_deg;
    if (slot.state == SlotState::found && slot.numbers) {
      const SlotNumbers& n = *slot.numbers;
      const double heading = rad_from_deg(slot.nominal_axis_deg + placement.turn_deg);
      const Vector2d along = unit_vector(heading);
      const Vector2d off = n.centre_mm - placed_mm(placement, centre, slot.nominal_centre_mm);
      own.measured = true;
      own.across_mm = off.dot(Vector2d(-along.y(), along.x()));
      if (n.along_mm) own.along_mm = off.dot(along);
      own.turn_deg = n.rotation_deg - placement.turn_deg;
      own.u_across_mm = n.uncertainty.across_mm;
      own.u_along_mm = n.uncertainty.along_mm;
      own.u_turn_deg = n.uncertainty.rotation_deg;
    }
    load.slots.push_back(own);
  }
  return load;
}

std::string record_line(const LoadRecord& load) {
  Json out;
  out["schema"] = kLoadForm.schema;
  out["time"] = load.time;
  out["photo"] = valid_utf8(load.photo);
  out["digest"] = load.digest;
  out["fixture"] = valid_utf8(load.fixture);
  out["self_located"] = load.self_located;
  out["witness"] = nullptr;
  if (load.witness)
    out["witness"] = {{"seen", load.witness->seen},
                      {"kept", load.witness->kept},
                      {"largest_px", written_number(load.witness->largest_px)},
                      {"largest_mm", written_number(load.witness->largest_mm)}};
  out["placement"] = nullptr;
  if (load.placement)
    out["placement"] = {{"shift_mm", place_json(load.placement->shift_mm)},
                        {"turn_deg", written_number(load.placement->turn_deg)},
                        {"from", load.placement->from},
                        {"u_mm", written_number(load.placement->shift_u_mm)},
                        {"u_deg", written_number(load.placement->turn_u_deg)}};
  out["slots"] = Json::array();
  for (const SlotLoad& slot : load.slots) out["slots"].push_back(load_json(slot));
  return out.dump();
}

CheckRecords read_records(const std::string& text) {
  CheckRecords records;
  std::istringstream lines(text);
  std::string line;
  while (std::getline(lines, line)) {
    if (line.find_first_not_of(" \t\r") == std::string::npos) continue;
    if (line.find(kBurnRecordSchema) != std::string::npos) continue;
    try {
      const JsonFile file(line, "record", kLoadForm);
      add_once(records, load_of(file.checked_root()));
    } catch (const InputError&) {
      ++records.damaged;  // whatever is wrong with it, the other lines still count
    }
  }
  return records;
}

}  // namespace jigtrue
