// The empty jig as the load's camera would see it now.
#pragma once
#include "jigtrue/image/photo.hpp"

#include "measurement/jig_motion.hpp"
#include "measurement/plane_pair.hpp"

namespace jigtrue::registration {

struct MovedPhoto {
  Photo photo;
  cv::Rect known;  // px; elsewhere it is as it was taken
};
// At the photo's own resolution. `light_ratio`: the load's light over the empty photo's, a value for each px of the
// pair.
[[nodiscard]] MovedPhoto moved_photo(const Photo& empty, const PlanePair& pair, const Level& level,
                                     const Motion& motion, const cv::Mat1f& light_ratio);

}  // namespace jigtrue::registration
