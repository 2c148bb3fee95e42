// What a slot's readings come to: found, empty, another blank, or in doubt.
#pragma once
#include "jigtrue/detection/readings.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// Log ratio from which on an outline counts. Some 100,000 places are searched in a slot (a tenth of a millimetre
// across, a fifth along, a fifth of a degree): log 1e5 = 11.5, and one slot in 250,000 may be taken wrongly by
// chance: 12.5.
inline constexpr double kMoreThanChance = 24.0;

struct Judgement {
  SlotState state = SlotState::doubtful;
  std::vector<std::string> reasons;
  std::string remedy;
  const Reading* reading =
      nullptr;                   // what the numbers come from, when the state carries any; one of the readings judged
  bool too_little_seen = false;  // in doubt for want of evidence, not since evidence contradicts itself
  const Reading* of_another_size =
      nullptr;  // what was seen there, when in doubt: what a whole load's sizes are told by
};

// A blank is found where one of the declared size is seen all round and together speaks for itself by more than chance
// over all places searched could; nothing else seen all round may explain the picture better. Where no such outline,
// nor most of one, is seen the slot is empty; all else is in doubt.
[[nodiscard]] Judgement judge(const Blank& blank, const Readings& readings);

}  // namespace jigtrue
