// What is wrong with a photo as a whole. Looks at the slots' parts of the picture only.
#pragma once
#include "jigtrue/base/failure.hpp"
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/photo.hpp"

#include <optional>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// The slots' parts of the picture, from the outlines of blanks at their nominal places.
class SlotParts {
 public:
  SlotParts(const Photo& photo, const Camera& camera, const Fixture& fixture);

  // What leaves nothing to be measured: no slot lies in the picture, or all that does is black. An empty slot would
  // look the same.
  [[nodiscard]] std::optional<Failure> fault_at_once() const;

  // What is plainly wrong where no blank could be measured: burned out, or too blurred. The limits are common practice,
  // no source: they name what is wrong, they do not decide whether a photo can be measured.
  [[nodiscard]] std::optional<Failure> fault_if_nothing_measures() const;

 private:
  const cv::Mat1b luma_;
  std::vector<cv::Rect> parts_;

  [[nodiscard]] double share_from(int level) const;
};

}  // namespace jigtrue
