// Who is ready to engrave and who needs a person: the words that every output shares.
#pragma once
#include "jigtrue/layout/machine.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// A slot's state, with "found" split by what keeps it from being engraved.
enum class Standing { ready, misfit, imprecise, empty, mismatch, doubtful };
[[nodiscard]] Standing standing(const SlotResult& slot);
[[nodiscard]] int ready_count(const CheckResult& result);

// What a slot that is not ready needs: "slot 5", "empty", "load a blank or leave it out".
struct Attention {
  std::string slot_id;
  std::string finding;
  std::string action;
};
[[nodiscard]] Attention attention(const SlotResult& slot);                       // of a slot that is not ready
[[nodiscard]] std::vector<Attention> needing_person(const CheckResult& result);  // in the fixture's order

// "All 8 slots ready." or "5 of 8 slots ready. These need you: 3, 5, 7." With more than max_names: "3, 5 and 9 more".
[[nodiscard]] std::string headline(const CheckResult& result, std::size_t max_names = 40);

// What the headline must not be read without, whole sentences: that a moved camera would not be noticed, that the
// layout's page is not the bed. Empty when there is nothing of the kind.
[[nodiscard]] std::vector<std::string> cautions(const CheckResult& result, const std::optional<Machine>& machine);

// The slot's reasons and, last, what keeps it from being engraved.
[[nodiscard]] std::vector<std::string> all_reasons(const SlotResult& slot);

[[nodiscard]] std::string joined(const std::vector<std::string>& parts, const std::string& separator);

}  // namespace jigtrue
