// What a photo of a load after burning says. Bed frame, millimetres and degrees, unless a name says otherwise.
#pragma once
#include "jigtrue/geometry/types.hpp"
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

enum class MarkState { marked, unmarked, doubtful };
[[nodiscard]] const char* to_string(MarkState state);

// Of a place in a blank's frame; along is absent where the blank's ends could not be measured.
struct MarkOffset {
  std::optional<double> along_mm;
  double across_mm = 0.0;
};

// 95 % half-widths.
struct MarkUncertainty {
  double along_mm = 0.0;
  double across_mm = 0.0;
  double rotation_deg = 0.0;
};

// One slot's own close-up for people: the surface unrolled, the drawing's outline where the mark was found.
struct MarkCloseUp {
  cv::Mat1f light;  // linear, u to the right, v up (row 0 is the lowest v)
  cv::Mat1b seen;
  double pitch_mm = 0.0;
  Vector2d low_mm = Vector2d::Zero();  // u, v about where the design belongs on the blank
};

struct InspectedSlot {
  std::string id;
  MarkState state = MarkState::doubtful;
  std::vector<std::string> reasons;  // empty only when marked and nothing is missing
  std::string remedy;

  std::optional<Vector2d> mark_mm;  // the burned drawing's centre, and its direction
  std::optional<double> mark_deg;
  std::optional<MarkOffset> from_blank_mm;  // against where it belongs on the blank as it lies now
  std::optional<MarkOffset> from_placed_mm;
  std::optional<double> rotation_deg;  // against the blank's axis; against the placed one where no blank was measured
  std::optional<MarkUncertainty> uncertainty;         // of from_blank and rotation
  std::optional<MarkUncertainty> placed_uncertainty;  // of from_placed: lens, pose and heights whole
  std::optional<double> contrast;                     // 1 - burned / bare; below 0: the mark is paler
  std::optional<double> contrast_u;                   // 95 %
  std::optional<double> evenness;                     // 1 - relative scatter of the contrast along the drawing
  std::optional<double> halo;                         // how much darker the ground beside the ink is than further off
  std::optional<double> halo_u;                       // 95 %
  std::optional<double> smoke;    // how much darker the ground some millimetres around the ink is than beyond; absent
                                  // where the blank has no such ground
  std::optional<double> smoke_u;  // 95 %
  bool is_due = true;             // something was to be burned there
  bool was_placed = false;        // the layout held it
  bool spoiled = false;           // what lies there is no piece of the batch: half a mark, two, another's, a turned one
  bool wants_another_pass = false;  // judge_looks.hpp

  std::optional<double> score;           // of the drawing against the texture's own, in its standard deviations
  std::optional<double> chance;          // that a bare blank would score so high
  std::optional<double> least_contrast;  // that would have been seen for sure
  MarkCloseUp close_up;
  std::optional<Matrix3d> photo_from_mark;  // from the drawing's plane, mm along and across, to the photo
};

// What the burns have in common against where the layout put them.
struct BeamReading {
  Vector2d about_mm = Vector2d::Zero();  // the slots' common centre
  Vector2d shift_mm = Vector2d::Zero();
  double turn_deg = 0.0;
  Vector2d shift_u_mm = Vector2d::Zero();  // 95 %, lens, pose and heights whole
  double turn_u_deg = 0.0;
  Vector2d own_u_mm = Vector2d::Zero();  // 95 %, of the marks alone: what another load by the same camera would repeat
  double own_turn_u_deg = 0.0;           // likewise
  BeamStretch stretch;                   // marks alone
  BeamStretch stretch_whole;             // the same with lens, pose and heights in the half-widths
  Vector2d reach_mm = Vector2d::Zero();  // how far from the common centre marks lie at most, X and Y
  double scatter_mm = 0.0;               // of the slots about it, one axis
  int slots = 0;
};

struct InspectionResult {
  CheckResult blanks;  // measured anew
  std::vector<InspectedSlot> slots;
  std::optional<BeamReading> beam;  // the whole of it, whatever was taken off already
  std::optional<BeamOffset> beam_applied;
  bool machine_applied = false;
  bool proof = false;              // one slot's frame on tape, no load
  std::vector<std::string> notes;  // whole sentences
  DesignArt art;

  [[nodiscard]] std::optional<BeamOffset> beam_offset() const;  // as the next loads may take it off
  [[nodiscard]] bool needs_person() const;                      // some slot is not marked as it should be
};

}  // namespace jigtrue
