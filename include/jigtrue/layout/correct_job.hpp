// The user's own layout, drawn for the fixture's nominal place, moved group by group to where the blanks really lie.
#pragma once
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/layout/placement.hpp"

#include <string>
#include <vector>

namespace jigtrue {

struct CorrectedJob {
  std::string svg;
  std::vector<std::string> placed;  // slot ids
  std::vector<LeftOut> left_out;
  std::vector<std::string> notes;  // whole sentences
  DesignArt art;                   // what each slot's groups hold, about its design's centre
  CheckResult result;              // each slot with the size and the verdict of what its own groups hold
};

// `job_svg` holds one group for each slot (or several: one in each pass), matched by data-slot, or by an id that is the
// slot's own or "slot-" and it. Of each placed slot's groups only the transform attribute changes: what takes the
// nominal place to the measured one is put before what stands there; an attribute data-corrected beside it tells that
// this was done, and a layout that carries it, or that this program placed itself, is refused. The groups of slots that
// are left out are taken out, for a beam must not meet an empty slot; every other byte stays. The page is the bed, seen
// from above: its lower left corner is the machine's front left one, or the bed's (0, 0) without a machine. Whether a
// slot's artwork fits is judged by its own ink, about the slot's nominal place; where the report tells of no room, its
// own verdict stands. Throws InputError: as read_artwork for hostile files, no group of any slot, a slot to be placed
// without a group, a group for a slot that the report has not, groups one inside the other, a page that is not the bed,
// groups drawn elsewhere than at their slot's nominal place (10 mm and more away: then the whole is shifted, or was
// corrected before).
[[nodiscard]] CorrectedJob correct_job(const std::string& job_svg, const std::string& file_name,
                                       const CheckResult& result, const std::optional<Machine>& machine);

}  // namespace jigtrue
