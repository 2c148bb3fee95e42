#include "jigtrue/measurement/judge_by_load.hpp"

#include "jigtrue/measurement/common_sizes.hpp"

#include <string>

#include "measurement/doubt.hpp"
#include "measurement/judge_by_row.hpp"
#include "measurement/judge_by_sizes.hpp"

namespace jigtrue {
namespace {

// Few of many slots read as found, and hardly any other as empty: hardly the fixture in the photo.
void judge_fixture(PhotoFindings& result) {
  constexpr std::size_t kMany = 4;  // slots of which few are read: of fewer, chance takes as many
  constexpr double kFew = 0.3;      // of the slots that are not empty
  std::size_t found = 0;
  std::size_t occupied = 0;
  for (const SlotResult& slot : result.slots) {
    found += slot.state == SlotState::found && tells_of_load(slot) ? 1 : 0;
    occupied += slot.state != SlotState::empty && !slot.covered ? 1 : 0;
  }
  if (found == 0 || occupied < kMany || static_cast<double>(found) > kFew * static_cast<double>(occupied)) return;
  for (SlotResult& slot : result.slots)
    if (slot.state == SlotState::found)
      doubt(slot, "hardly any other slot can be read, so the file may not be this fixture's",
            "see whether the file is this fixture's, and whether the fixture stands where it says");
  result.notes.push_back("Only " + std::to_string(found) + " of " + std::to_string(occupied) +
                         " slots that are not empty could be read. Is the file this fixture's, and does the fixture "
                         "stand where it says?");
}

}  // namespace

void judge_by_load(const Fixture& fixture, const Vector2d& camera_mm, PhotoFindings& result) {
  const std::vector<CommonSize> sizes = common_sizes(fixture, result.slots);
  for (const CommonSize& group : sizes) judge_by_sizes(group, fixture, result);
  judge_places(fixture, result);
  // before heights are judged: what they leave open is no less of a blank seen
  judge_fixture(result);
  judge_heights(fixture, sizes, camera_mm, result);
}

}  // namespace jigtrue
