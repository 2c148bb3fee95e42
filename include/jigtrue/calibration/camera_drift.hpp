// Whether the camera still stands where its pose was taken, by the marks stuck to the bed for good.
//
// Each mark is compared with where it was seen then. Few marks that moved while the others stayed are marks that were
// disturbed. Otherwise the camera counts as moved when one mark is off beyond chance, or when the marks' common motion
// (shift, turn and scale in the picture) is: chi-square tests that give a false alarm once in a hundred photos,
// together. Motions below kHarmlessMotion_px are let pass whatever the marks' own precision: a camera's mount, focus
// and warming do as much (common practice, no source), and 0.2 px are about 0.04 mm on the bed.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/image/mark.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

inline constexpr double kHarmlessMotion_px = 0.2;  // of a mark: less is chance

enum class CameraStand {
  unknown,  // the camera file keeps no witness marks
  agrees,
  moved,
  hidden,  // none of the marks is where it was: moved far, or all covered
};

struct WitnessView {
  WitnessMark kept;
  Outcome<MarkPosition> found = Failure{"not looked for"};
  bool disturbed = false;  // it moved while the camera did not
};

struct CameraDrift {
  CameraStand stand = CameraStand::unknown;
  std::vector<WitnessView> marks;
  int seen = 0;             // found and not disturbed
  double largest_px = 0.0;  // largest distance between kept and found, over those
  double largest_mm = 0.0;  // the same on the bed
};

// Looks for every kept mark, first near its place, then farther around. The photo has the camera's size.
[[nodiscard]] CameraDrift watch_camera(const cv::Mat1b& luma, const CameraRecord& record);

// The decision alone: `found` in the order of record.witness.
[[nodiscard]] CameraDrift judge_drift(const CameraRecord& record, const std::vector<Outcome<MarkPosition>>& found);

// What the bed marks that were seen leave open: covariance of a move of the camera that nobody noticed (rotation
// vector, translation, as in Camera::covariance), to be added to the pose's. Small with four marks seen, and as large
// as an unnoticed knock where none is.
[[nodiscard]] Eigen::Matrix<double, 6, 6> unnoticed_motion(const CameraRecord& record, const CameraDrift& drift);

// The pose solved anew from the witness marks, whose bed places follow from the old pose: its errors are carried along,
// those of the marks added. Fails with fewer than three marks, or with marks that contradict each other.
struct Repose {
  Camera camera;
  int marks = 0;
  double rms_px = 0.0;
};
[[nodiscard]] Outcome<Repose> repose(const CameraRecord& record, const CameraDrift& drift);

// "the camera has moved by 12.4 px (about 2.5 mm on the bed) since 2024-05-01: run pose again". Empty when it has not.
[[nodiscard]] std::string drift_reason(const CameraRecord& record, const CameraDrift& drift);
// Whole sentences for the person at the machine: marks unseen or disturbed.
[[nodiscard]] std::vector<std::string> drift_notes(const CameraDrift& drift);

}  // namespace jigtrue
