// A photo of a loaded jig whose slots nobody has measured yet -> where its blanks lie.
#pragma once
#include "jigtrue/fixture/like_file.hpp"
#include "jigtrue/measurement/measure_slot.hpp"
#include "jigtrue/measurement/regular_grid.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

struct ScoutOptions {
  const Photo* empty = nullptr;  // of the same jig without blanks, by the first load's camera (empty_view.hpp)
  int threads = 2;               // results do not depend on it
};

// A place that was looked at: `slot` is where a blank lies, or where it was supposed.
struct ScoutedPlace {
  Slot slot;
  SlotResult measured;   // as a check measures it, against `slot` as first supposed
  double support = 0.0;  // of the outline in the view from above; 0 where it was looked for by the grid alone
  int loads = 1;         // in which its slot held a blank; `slot` is then where they lay on average
};

// A slot of the jig. In a regular jig the grid says where it lies, else its blank.
struct ScoutedSlot {
  Slot slot;
  std::optional<ScoutedPlace> blank;  // what lies there; absent for a gap
  std::string note;                   // of a gap: what the photo shows there instead
  SlotSketch sketch;                  // the slot's own outline, px of the photo
};

struct ScoutResult {
  std::vector<ScoutedSlot> slots;  // ids "1", "2", ...: from the front to the back, in a row from left to right
  std::optional<RegularGrid> grid;
  std::vector<ScoutedPlace> others;  // what looked like a blank and was not taken for one; most support first
  std::vector<std::string> notes;    // whole sentences

  [[nodiscard]] bool has_gaps() const;
};

// One photo of the jig, loaded, and the camera in its place.
struct ScoutedLoad {
  const Photo& photo;
  const Camera& camera;
  double lens_error_px = 0.0;  // what the lens model misses the lens by, typically
};

// Searches the whole bed for blanks as `like` declares them, in each photo; the jig has not been moved from one to the
// next. What is drawn, and what is said of gaps, is the first photo's. Throws InputError when a photo's size is not its
// camera's, and when it does not show such blanks, all of one size, whole and apart from each other.
[[nodiscard]] ScoutResult scout_photos(const std::vector<ScoutedLoad>& loads, const LikeFile& like,
                                       const ScoutOptions& options, EdgeModelStore& models);
[[nodiscard]] ScoutResult scout_photo(const Photo& photo, const Camera& camera, const LikeFile& like,
                                      const ScoutOptions& options, EdgeModelStore& models);

}  // namespace jigtrue
