// Places labels beside what they name so that no two cover each other.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <vector>

#include <opencv2/core.hpp>

namespace jigtrue {

struct LabelWish {
  Vector2d anchor = Vector2d::Zero();  // where it would best lie, px of the picture
  cv::Size full;
  cv::Size brief;  // taken where the full one finds no room
};
struct LabelPlace {
  cv::Rect area;
  bool brief = false;
};

// Greedy, in the given order. A place costs its distance from the anchor and the share of it that lies on one of the
// keep-clear shapes; places on an earlier label are out of the question unless the whole picture has no other.
[[nodiscard]] std::vector<LabelPlace> place_labels(const std::vector<LabelWish>& wishes,
                                                   const std::vector<Polyline2d>& keep_clear, const cv::Size& picture);

}  // namespace jigtrue
