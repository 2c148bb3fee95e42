#include "jigtrue/history/burn_record.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/json/json_file.hpp"
#include "jigtrue/json/written_number.hpp"

#include <algorithm>
#include <sstream>
#include <utility>

#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using BurnJson = nlohmann::ordered_json;

constexpr JsonForm kBurnForm{"a burned load's record", kBurnRecordSchema};
constexpr JsonRange kBurnNumber{-1e5, 1e5, ""};

BurnJson burn_number(double value) { return written_number(value, 5); }
BurnJson burn_number(const std::optional<double>& value) { return value ? burn_number(*value) : BurnJson(nullptr); }
BurnJson burn_pair(const Vector2d& v) { return BurnJson::array({burn_number(v.x()), burn_number(v.y())}); }

std::optional<double> number_of(const JsonField& field, const char* name) {
  const auto given = field.given(name);
  return given ? std::optional(given->number(kBurnNumber)) : std::nullopt;
}

Vector2d burned_pair(const JsonField& field) {
  field.require_list(2, 2);
  return {field[0].number(kBurnNumber), field[1].number(kBurnNumber)};
}

BurnRecord burn_of(const JsonField& root) {
  BurnRecord load;
  load.time = root["time"].text();
  load.photo = root["photo"].text();
  load.digest = root["digest"].text();
  load.load = root["load"].text();
  load.fixture = root["fixture"].text();
  if (const auto beam = root.given("beam")) {
    BeamOffset offset;
    offset.about_mm = burned_pair((*beam)["about_mm"]);
    offset.shift_mm = burned_pair((*beam)["shift_mm"]);
    offset.turn_deg = (*beam)["turn_deg"].number(kBurnNumber);
    offset.shift_u_mm = burned_pair((*beam)["u_mm"]);
    offset.turn_u_deg = (*beam)["u_deg"].number(kBurnNumber);
    offset.loads = 1;
    offset.machine_applied = (*beam)["machine_applied"].yes();
    load.beam = offset;
  }
  const JsonField slots = root["slots"];
  slots.require_list(0, 2000);
  for (std::size_t i = 0; i < slots.size(); ++i)
    load.slots.push_back({slots[i]["id"].text(), slots[i]["state"].text(), number_of(slots[i], "contrast"),
                          number_of(slots[i], "evenness"), number_of(slots[i], "halo")});
  return load;
}

}  // namespace

std::string burn_record_line(const BurnRecord& load) {
  BurnJson out;
  out["schema"] = kBurnRecordSchema;
  out["time"] = load.time;
  out["photo"] = valid_utf8(load.photo);
  out["digest"] = load.digest;
  out["load"] = load.load;
  out["fixture"] = valid_utf8(load.fixture);
  out["beam"] = nullptr;
  if (load.beam)
    out["beam"] = {{"about_mm", burn_pair(load.beam->about_mm)},   {"shift_mm", burn_pair(load.beam->shift_mm)},
                   {"turn_deg", burn_number(load.beam->turn_deg)}, {"u_mm", burn_pair(load.beam->shift_u_mm)},
                   {"u_deg", burn_number(load.beam->turn_u_deg)},  {"machine_applied", load.beam->machine_applied}};
  out["slots"] = BurnJson::array();
  for (const BurnedSlot& slot : load.slots)
    out["slots"].push_back({{"id", valid_utf8(slot.id)},
                            {"state", slot.state},
                            {"contrast", burn_number(slot.contrast)},
                            {"evenness", burn_number(slot.evenness)},
                            {"halo", burn_number(slot.halo)}});
  return out.dump();
}

bool same_burn(const BurnRecord& a, const BurnRecord& b) {
  return a.digest == b.digest || (!a.load.empty() && a.load == b.load);
}

std::vector<BurnRecord> read_burn_records(const std::string& text, const std::string& fixture) {
  std::vector<BurnRecord> loads;
  std::istringstream lines(text);
  std::string line;
  while (std::getline(lines, line)) {
    if (line.find(kBurnRecordSchema) == std::string::npos) continue;
    try {
      const JsonFile file(line, "record", kBurnForm);
      BurnRecord load = burn_of(file.checked_root());
      if (load.fixture != fixture) continue;
      const auto before =
          std::find_if(loads.begin(), loads.end(), [&](const BurnRecord& each) { return same_burn(each, load); });
      if (before == loads.end())
        loads.push_back(std::move(load));
      else
        *before = std::move(load);
    } catch (const InputError&) {
      // whatever is wrong with it, the other lines still count
    }
  }
  return loads;
}

}  // namespace jigtrue
