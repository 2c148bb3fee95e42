// The record of every check: one line of JSON a load, appended, never rewritten.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// One slot of one load. "Own": as the fixture's marks place the fixture, so apart from its shift and turn; without
// marks the same as the offset on the bed.
struct SlotLoad {
  std::string id;
  std::string state;  // "found", ...; numbers only when found
  Vector2d nominal_mm = Vector2d::Zero();
  double nominal_axis_deg = 0.0;
  bool measured = false;
  double across_mm = 0.0;
  std::optional<double> along_mm;
  double turn_deg = 0.0;
  double u_across_mm = 0.0;                      // 95 %
  std::optional<double> u_along_mm, u_turn_deg;  // the same; records of older versions have none
};

struct LoadRecord {
  std::string time;
  std::string photo;
  std::string digest;  // of the photo's picture, however its file is named; empty in records of older versions
  std::string fixture;
  bool self_located = false;
  std::optional<WitnessFinding> witness;
  std::optional<FixturePlacement> placement;
  std::vector<SlotLoad> slots;
};

[[nodiscard]] LoadRecord load_record(const CheckResult& result, const Fixture& fixture, const std::string& time);
[[nodiscard]] std::string record_line(const LoadRecord& load);

// Whether two records are of one load: the same picture, or every slot in the same state and where it was, to what
// copies of one photo differ by (two_photos.hpp), however they were saved. With fewer than three slots measured only
// equal numbers tell that, for two loads may come that near by chance.
[[nodiscard]] bool same_load(const LoadRecord& a, const LoadRecord& b);

// The loads in the file's order, each once: of one that was checked several times for the same fixture the last record
// stands, and the others are counted. Lines of inspections are passed over. A line that is damaged or was never
// finished is passed over and counted.
struct CheckRecords {
  std::vector<LoadRecord> loads;
  int damaged = 0;
  int repeated = 0;
};
[[nodiscard]] CheckRecords read_records(const std::string& text);

}  // namespace jigtrue
