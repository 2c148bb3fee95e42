// What one photo says of each slot. Bed frame, millimetres and degrees, unless a name says otherwise.
#pragma once
#include "jigtrue/calibration/machine_reading.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/geometry/types.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

enum class SlotState { found, empty, mismatch, doubtful };
[[nodiscard]] const char* to_string(SlotState state);

// Half-widths that hold the truth with the stated coverage; absent where the number itself could not be measured.
struct ExpandedUncertainty {
  double coverage = 0.95;
  double across_mm = 0.0;
  std::optional<double> along_mm;
  double rotation_deg = 0.0;
  std::optional<double> diameter_mm;
};

// One named contribution to the uncertainty, standard (1 sigma).
// What a measured place is uncertain by: names of budget shares that others ask for.
namespace cause {
inline constexpr const char* kEdgesAndLimbs = "edges and limbs";
inline constexpr const char* kEndUnseen = "an end unseen";
inline constexpr const char* kOneEdgeOrAnother = "one edge or another";
inline constexpr const char* kSeatHeight = "seat height";
inline constexpr const char* kLengthOrHeight = "length or height of all blanks";
inline constexpr const char* kHeightOrDistances = "height or distances of the slots";
inline constexpr const char* kShade = "shade beside the limbs";
inline constexpr const char* kSidesAgainstSize = "sides against size";
inline constexpr const char* kLens = "lens";
inline constexpr const char* kLensModel = "lens model";
inline constexpr const char* kPose = "pose";
}  // namespace cause

struct BudgetShare {
  std::string name;  // one of `cause`, or of a stage's own
  double across_mm = 0.0;
  double along_mm = 0.0;
  double rotation_deg = 0.0;
};

struct SlotNumbers {
  // Where the blank lies, as measured: nothing changes it later. What follows is what the design is to be moved by,
  // which the load as a whole, the machine's figures and the beam's offset may correct. Only of a slot just measured:
  // no file keeps it.
  BlankPlace blank;
  Vector2d centre_mm = Vector2d::Zero();  // where the design's centre belongs
  double axis_deg = 0.0;
  Vector2d offset_mm = Vector2d::Zero();  // centre less the slot's nominal design point
  double across_mm = 0.0;                 // offset in the slot frame
  std::optional<double> along_mm;  // absent when neither end could be measured; centre and offset then take it as 0
  double rotation_deg = 0.0;
  std::optional<double> diameter_mm;  // of the barrel or disc; absent for a plate
  ExpandedUncertainty uncertainty;
  std::vector<BudgetShare> budget;
  // What the machine's figures have changed `centre_mm` by; less it, the camera's own place. Absent when not applied.
  std::optional<Vector2d> machine_correction_mm;
};

// An outline of what is to be engraved, px of the original photo: filled (one within another is a hole), or a line.
struct ArtLine {
  Polyline2d px;
  bool filled = false;
};

// What to draw on the photo, px of the original photo.
struct SlotSketch {
  std::vector<Polyline2d> outline;  // measured outline; the nominal one when nothing was measured
  Polyline2d centreline;
  Polyline2d nominal_centreline;
  Polyline2d design_box;  // at its corrected place; closed without repeating the first point
  Polyline2d nominal_design_box;
  Polyline2d band;                       // the usable band under and beside the design; empty when it is not known
  Vector2d label_px = Vector2d::Zero();  // where the slot's name has room, beside the blank
  // From the plane of the design, mm along and across its place (the corrected one, else the nominal), to the photo.
  std::optional<Matrix3d> photo_from_design;
  std::vector<ArtLine> art;  // what is to be engraved, as it will lie
};

// Which way the bed lies in the photo: unit vectors along its X and Y, as seen about the middle of the slots.
struct BedDirections {
  Vector2d x = Vector2d(1.0, 0.0);
  Vector2d y = Vector2d(0.0, -1.0);
};

// The design's box as the layout places it, bed frame.
struct DesignBox {
  double width_mm = 0.0;
  double height_mm = 0.0;
};

// How far ink may reach from the point where the design's centre belongs, uncertainty not yet taken off. Set by the
// layout. Left lies towards +across.
struct DesignRoom {
  double left_mm = 0.0;
  double right_mm = 0.0;
  double forward_mm = 0.0;   // towards the blank's end
  double backward_mm = 0.0;  // towards its start
  double u_across_mm = 0.0;  // 95 % half-widths to be taken off at each edge
  double u_along_mm = 0.0;
  std::optional<double> disc_radius_mm;  // a disc's: then the corners must stay on it, too
  std::optional<double> diameter_mm;     // of the barrel under the design; absent for flat blanks
  double lean_deg = 0.0;                 // of the beam at the design's centre, across; positive from the left
  double design_width_mm = 0.0;          // left and right hold up to this width; 0: for all
  std::string bound;                     // what ends the band: "incidence", "fluence", "depth of focus", "edge"
  // Up to this width the design's height would fit, where the design as it is reaches too slim a place; not kept in
  // files.
  std::optional<double> full_height_width_mm = std::nullopt;
};

// What a blank's own ends say of its length.
struct MeasuredLength {
  bool start_seen = false;
  bool end_seen = false;
  double taken_mm = 0.0;         // that the numbers rest on
  std::optional<double> own_mm;  // from both its ends alone, the declared one left aside; absent unless both are seen
  double own_sigma_mm = 0.0;
};

// An outline as it was seen, not drawn towards the declared size.
struct SeenSize {
  std::optional<double> length_mm;  // only where both ends are seen; never of a disc
  double girth_mm = 0.0;
  Vector2d centre_mm = Vector2d::Zero();  // of the blank
};

// How far a blank's own sides lie apart, the declared size left aside.
struct MeasuredGirth {
  double mm = 0.0;
  double sigma_mm = 0.0;
};

struct SlotResult {
  std::string id;
  SlotState state = SlotState::doubtful;
  std::vector<std::string> reasons;               // empty only when found
  std::string remedy;                             // what a person is to do; empty: what the state always asks for
  std::optional<SlotNumbers> numbers;             // only when found or mismatch
  Vector2d nominal_centre_mm = Vector2d::Zero();  // the slot's nominal design point
  double nominal_axis_deg = 0.0;
  std::optional<DesignBox> design;
  std::optional<double>
      usable_band_mm;            // height of the band along the crown that takes the beam well, uncertainty taken off
  bool turned_about = false;     // mismatch since it lies end for end; not kept in files
  bool too_little_seen = false;  // doubtful for want of evidence; not kept in files
  bool covered = false;          // doubtful since something lies over it
  bool as_empty_photo = false;   // empty since it looks as in the photo of the empty jig
  std::optional<MeasuredLength> length;  // absent for discs, and without numbers
  std::optional<SeenSize> seen;          // where an outline was seen at all, doubtful or not; not kept in files
  std::optional<MeasuredGirth> girth;    // of a slot just measured; not kept in files
  double log_ratio = 0.0;                // of the reading that the numbers come from; not kept in files
  double two_materials = 0.0;            // the same
  Need need;                             // the fixture's
  std::optional<bool> design_fits;
  std::optional<DesignRoom> room;
  std::string design_note;  // why it does not fit and what to do, in numbers
  SlotSketch sketch;
};

// Whether the load's other slots may be judged by this one: measured, with its place across told to half a millimetre.
// Blanks are sold in steps of that (common practice, no source); sides known no better may be other edges.
[[nodiscard]] bool tells_of_load(const SlotResult& slot);

struct FixturePlacement {
  Vector2d shift_mm = Vector2d::Zero();  // of the slots' common centre
  double turn_deg = 0.0;                 // about it
  std::string from;                      // "marks" or "slots"
  double shift_u_mm = 0.0;               // 95 % half-widths
  double turn_u_deg = 0.0;
};

struct WitnessFinding {
  int seen = 0;
  int kept = 0;             // how many camera.json holds
  double largest_px = 0.0;  // largest distance between expected and found
  double largest_mm = 0.0;
};

// How a beam's places are stretched against the camera's beyond shift and turn; each absent where marks lie too close
// to tell it. Half-widths of the marks alone.
struct BeamStretch {
  std::optional<Figure> scale_x;  // relative
  std::optional<Figure> scale_y;
  std::optional<Figure> square_deg;  // angle between +X and +Y less 90
};

// Where a beam lands against where the camera has it, as burned marks of former loads said: the shift of `about_mm` and
// the turn about it. 95 % half-widths of the marks alone; the camera's own errors are in marks and blanks alike.
struct BeamOffset {
  Vector2d about_mm = Vector2d::Zero();
  Vector2d shift_mm = Vector2d::Zero();
  double turn_deg = 0.0;
  Vector2d shift_u_mm = Vector2d::Zero();
  double turn_u_deg = 0.0;
  BeamStretch stretch;  // taken off only as far as it is sure (inspection/apply_beam.hpp)
  int loads = 0;
  bool machine_applied = false;  // those loads were laid out with the machine's own errors corrected
};

// What measuring a photo says.
struct PhotoFindings {
  std::vector<SlotResult> slots;              // in the fixture's order
  std::optional<FixturePlacement> placement;  // absent when too few slots or marks were measured
  std::vector<std::string> notes;             // whole sentences for the person at the machine
};

// The whole answer to one photo: what was measured, what was known beside it, and what each stage made of both.
struct CheckResult {
  std::string photo_file;
  std::string photo_digest;  // tells pictures apart whatever their files are called (image/photo_digest.hpp)
  std::string fixture_name;
  int width_px = 0;
  int height_px = 0;
  std::vector<SlotResult> slots;
  std::optional<FixturePlacement> placement;  // absent when too few slots or marks were measured
  std::optional<WitnessFinding> witness;      // absent when the camera keeps none
  std::vector<std::string> notes;             // whole sentences for the person at the machine
  std::optional<BedDirections> directions;    // absent when there is no picture of it
  bool self_located = false;
  std::optional<BeamOffset> beam_applied;  // taken off: numbers are then what the machine must be told
  std::optional<MachineReading> machine;   // what the camera file knows of the machine
  bool machine_applied = false;            // then numbers are what the machine must be told (layout/apply_machine.hpp)

  [[nodiscard]] bool needs_person() const;  // some slot is not ready (readiness.hpp)
};

}  // namespace jigtrue
