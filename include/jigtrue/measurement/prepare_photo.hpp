// What a photo's slots need before they are measured: where to look, what a coarse search sees there, how blurred the
// picture is.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/measure_slot.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

struct PreparedPhoto {
  SearchPicture picture;
  std::vector<SlotTask> tasks;  // one a slot, in the fixture's order
  PictureBlur blur;
};

// `marked`: where the fixture's own marks place it, if they do.
[[nodiscard]] PreparedPhoto prepare_photo(const Photo& photo, const Camera& camera, const Fixture& fixture,
                                          const std::optional<FixturePlacement>& marked, const SearchRange& range,
                                          int threads, EdgeModelStore& models);

// The same for tasks whose slots, places and ranges are known, as from another scale of the photo.
[[nodiscard]] PreparedPhoto prepare_tasks(const Photo& photo, const Camera& camera, std::vector<SlotTask> tasks,
                                          int threads, EdgeModelStore& models);

// The slots as they are looked at once it is known what their jig shows without blanks: other places to start from, and
// clutter as far as the jig does not explain it.
[[nodiscard]] std::vector<SlotTask> tasks_on_jig(const Photo& photo, const Camera& camera, const BareJig& jig,
                                                 int threads, EdgeModelStore& models, const PreparedPhoto& prepared);

}  // namespace jigtrue
