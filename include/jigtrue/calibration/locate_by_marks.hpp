// A photo's own pose from marks at declared places, found anywhere in the photo.
#pragma once
#include "jigtrue/calibration/burned_fit.hpp"
#include "jigtrue/calibration/match_marks.hpp"
#include "jigtrue/calibration/pose_fit.hpp"

#include <optional>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

struct LocateOptions {
  double field_mm = 8.0;
  // How well the declared places are known, one axis. Counts as four observations: the residuals of many marks outvote
  // it. 0.05 mm: measured with callipers; common practice, no source.
  double place_sigma_mm = 0.05;
  bool burned = false;          // by a machine, whose scales and squareness may then be off
  std::optional<PhotoTop> top;  // told by the user: needed only for marks that look the same from several sides
};

struct LocatedMark {
  std::size_t index = 0;  // in the list of declared marks
  Vector2d px = Vector2d::Zero();
  double sigma_px = 0.0;
};

struct LocatedPhoto {
  PoseFit pose;
  std::vector<LocatedMark> used;      // in the order of pose.points_mm
  std::vector<std::size_t> left_out;  // seen, but contradicting the others
  std::vector<std::size_t> not_seen;
  double place_sigma_mm = 0.0;      // of the declared places, as believed in the end
  std::optional<BurnedFit> burned;  // of five burned marks or more
  bool machine_in_pose = false;     // `burned` is significant, and `pose` is its pose; else `pose` leaves it out
};

// Fails with a reason: fewer than four marks that agree, an open choice, a lens of another picture size, places that
// the lens cannot explain.
[[nodiscard]] Outcome<LocatedPhoto> locate_by_marks(const cv::Mat1b& luma, const LensRecord& lens,
                                                    const std::vector<Vector3d>& marks_mm,
                                                    const LocateOptions& options = {});

// The same from marks that such a photo has given before, kept with their places; their sigma_px is each one's own.
// start: any first pose.
[[nodiscard]] Outcome<LocatedPhoto> locate_by_kept_marks(const LensRecord& lens, const std::vector<PlacedMark>& marks,
                                                         const Rigid& start, const LocateOptions& options);

}  // namespace jigtrue
