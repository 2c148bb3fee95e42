// The record of every inspected load: one line of JSON, in a file of its own or among those of checks.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

struct BurnedSlot {
  std::string id;
  std::string state;  // "marked", ...; numbers only when marked
  std::optional<double> contrast;
  std::optional<double> evenness;
  std::optional<double> halo;
};

struct BurnRecord {
  std::string time;
  std::string photo;
  std::string digest;  // of the photo's picture
  std::string load;    // digest of the photo that the load was laid out by; empty where its report knew none
  std::string fixture;
  std::optional<BeamOffset> beam;
  std::vector<BurnedSlot> slots;
};

inline constexpr const char* kBurnRecordSchema = "jigtrue.burn/1";

[[nodiscard]] std::string burn_record_line(const BurnRecord& load);

// The fixture's loads in the file's order, each once: of a load that was inspected several times the last line stands.
// Lines of checks, and damaged ones, are passed over.
[[nodiscard]] std::vector<BurnRecord> read_burn_records(const std::string& text, const std::string& fixture);

// Whether two lines are of one load.
[[nodiscard]] bool same_burn(const BurnRecord& a, const BurnRecord& b);

}  // namespace jigtrue
