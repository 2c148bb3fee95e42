#include "jigtrue/history/settle.hpp"

#include "jigtrue/base/series.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

// Smaller moves are not worth a new file.
constexpr double kLeastAcross_mm = 0.05;
constexpr double kLeastAlong_mm = 0.2;
constexpr double kLeastTurn_deg = 0.1;

struct Mean {
  int count = 0;
  double mean = 0.0;
  double spread = 0.0;
  [[nodiscard]] bool justified(double least) const {
    if (count < kFewestLoads) return false;
    const double own = students_t(count - 1.0) * spread / std::sqrt(static_cast<double>(count));
    return std::abs(mean) > std::max({own, 0.5 * spread, least});
  }
};

Mean mean_of(const std::vector<double>& values) {
  const Series series = series_of(std::vector<std::size_t>(values.size(), 0), values);
  return {static_cast<int>(values.size()), series.mean, series.spread};
}

struct SlotLoads {
  std::vector<double> across, along, turn;
  double u_across = 0.0;
  int elsewhere = 0;  // loads in which the slot stood at another nominal place
};

SlotLoads loads_of(const CheckRecords& records, const Fixture& fixture, const Slot& slot) {
  SlotLoads loads;
  for (const LoadRecord& load : records.loads) {
    if (load.fixture != fixture.name) continue;
    for (const SlotLoad& seen : load.slots) {
      if (seen.id != slot.id || !seen.measured) continue;
      if ((seen.nominal_mm - slot.centre_mm).norm() > 0.002 ||
          std::abs(seen.nominal_axis_deg - slot.axis_deg) > 0.002) {
        ++loads.elsewhere;
        continue;
      }
      loads.across.push_back(seen.across_mm);
      if (seen.along_mm) loads.along.push_back(*seen.along_mm);
      loads.turn.push_back(seen.turn_deg);
      loads.u_across += seen.u_across_mm;
    }
  }
  if (!loads.across.empty()) loads.u_across /= static_cast<double>(loads.across.size());
  return loads;
}

// What a slot's loads say of each direction, and which of it justifies a move.
struct Evidence {
  Mean across, along, turn;
  bool by_across, by_along, by_turn;

  explicit Evidence(const SlotLoads& loads)
      : across(mean_of(loads.across)),
        along(mean_of(loads.along)),
        turn(mean_of(loads.turn)),
        by_across(across.justified(std::max(kLeastAcross_mm, loads.u_across))),
        by_along(along.justified(kLeastAlong_mm)),
        by_turn(turn.justified(kLeastTurn_deg)) {}

  [[nodiscard]] bool moves() const { return by_across || by_along || by_turn; }

  [[nodiscard]] std::string figures() const {
    const auto figure = [](const char* name, const Mean& mean, const char* unit) {
      return std::string(name) + " " + signed_text(mean.mean, 3) + " " + unit + " (spread " +
             fixed_text(mean.spread, 3) + ")";
    };
    return std::to_string(across.count) + " loads: " + figure("across", across, "mm") + ", " +
           figure("along", along, "mm") + ", " + figure("turn", turn, "deg");
  }

  [[nodiscard]] std::string moved() const {
    std::string list;
    for (const auto& [by, name] : {std::pair{by_across, "across"}, {by_along, "along"}, {by_turn, "turned"}})
      if (by) list += (list.empty() ? " " : ", ") + std::string(name);
    return list;
  }

  [[nodiscard]] SlotMove move(double axis_deg) const {
    const double angle = rad_from_deg(axis_deg);
    const Vector2d axis = unit_vector(angle);
    SlotMove move;
    if (by_across) move.by_mm += across.mean * Vector2d(-axis.y(), axis.x());
    if (by_along) move.by_mm += along.mean * axis;
    if (by_turn) move.turn_deg = turn.mean;
    move.why = figures();
    return move;
  }
};

std::string verdict_line(const Evidence& evidence, const SlotLoads& loads) {
  if (evidence.across.count < kFewestLoads) {
    std::string line = "left as it is: " + std::to_string(evidence.across.count) +
                       (evidence.across.count == 1 ? " load" : " loads") + " at this place, " +
                       std::to_string(kFewestLoads) + " are needed";
    if (loads.elsewhere > 0)
      line += " (" + std::to_string(loads.elsewhere) + " more were made with the slot elsewhere)";
    return line;
  }
  if (!evidence.moves()) return "left as it is, its loads do not justify a move; " + evidence.figures();
  return "moved" + evidence.moved() + "; " + evidence.figures();
}

}  // namespace

Settling settle(const CheckRecords& records, const Fixture& fixture) {
  Settling settling;
  for (const Slot& slot : fixture.slots) {
    const SlotLoads loads = loads_of(records, fixture, slot);
    const Evidence evidence(loads);
    settling.lines.push_back("slot " + slot.id + ": " + verdict_line(evidence, loads));
    settling.moved += evidence.moves() ? 1 : 0;
    settling.moves.push_back(evidence.moves() ? std::optional(evidence.move(slot.axis_deg)) : std::nullopt);
  }
  return settling;
}

}  // namespace jigtrue
