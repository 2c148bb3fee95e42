// Places labels beside what they name so that no two cover each other.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <vector>

#include <opencv2/core.hpp>

namespace jigtrue {

struct LabelWish {
  Polyline2d anchors;  // where it would best lie, px of the picture; the first is a little better than the others
  Polyline2d shape;    // what it names: kept clear by every label
  cv::Size full;
  cv::Size brief;  // taken where the full one finds no room
};
struct LabelPlace {
  cv::Rect area;
  bool brief = false;
};

// Greedy, in the given order. A place costs its distance from an anchor and the share of it that lies on any shape;
// places on an earlier label are out of the question unless the whole picture has no other.
[[nodiscard]] std::vector<LabelPlace> place_labels(const std::vector<LabelWish>& wishes, const cv::Size& picture);

}  // namespace jigtrue
