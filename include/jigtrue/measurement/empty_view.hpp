// What a photo of the same jig without blanks, taken once by the same camera, says about a load.
//
// The jig may since have been taken out and put back some tenths of a millimetre elsewhere, the exposure may differ,
// the blanks cast shadows and throw light. The bed under it has not moved. So the empty photo is registered to the load
// by what lies beside the slots, place by place either with the jig or with the bed (Lucas & Kanade, IJCAI 1981; robust
// weights as in Black & Anandan, CVIU 63(1), 1996), and its light is matched to the load's there.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/measurement/picture_cells.hpp"

#include <array>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// How the jig lies in the load against how it lay in the empty photo.
struct JigMotion {
  Vector2d shift_mm = Vector2d::Zero();  // of the slots' common centre, bed
  double turn_deg = 0.0;                 // about it
};

// How much of a part of the picture has changed since the empty photo in more than its light: 0 (nothing) to 1.
struct PartChange {
  double share = 0.0;
  int cells = 0;  // that it was told from, of kCell_mm a side
};

class EmptyView {
 public:
  static constexpr double kCell_mm = 3.0;  // a cell's side

  JigMotion motion;
  // The empty jig as the load's camera would see it now: moved to where the jig lies, in the load's light, in the
  // load's pixels. Beyond the surroundings of the slots it shows nothing of use: see `known`.
  Photo photo;
  cv::Rect known;
  // Of (load - photo) where nothing has changed, grey levels, 1 sigma: luma, blue and red chroma.
  std::array<double, 3> noise{};
  double place_sigma_px = 0.0;  // how well it is registered, in the load's pixels
  double agreement = 0.0;       // share of what is to be seen beside the slots that both photos show, 0 to 1

  // Within a closed outline, px of the load.
  [[nodiscard]] PartChange change_within(const Polyline2d& outline_px) const;
  // Between two closed outlines, the outer one beyond the inner one, leaving out all slots' own parts: what lies beside
  // a slot and was not there.
  [[nodiscard]] PartChange change_between(const Polyline2d& inner_px, const Polyline2d& outer_px) const;

 private:
  friend Outcome<EmptyView> register_empty(const Photo&, const Photo&, const Camera&, const Fixture&,
                                           const std::vector<BlankPlace>&);
  PictureCells cells_;  // of the picture in which both were compared
  cv::Mat1b changed_;   // one a cell: 1 changed, 0 as it was
  cv::Mat1b foreign_;   // one a cell: changed in a way that neither shadow nor light of a blank explains
  cv::Mat1b of_slots_;  // one a cell: where a blank of a slot may lie
  [[nodiscard]] cv::Mat1b cells_within(const Polyline2d& outline_px) const;
};

// `places`: where the blanks are expected, one a slot. The two photos are of one size. Fails, saying why, where the
// empty photo is not one of this jig at about this place by this camera.
[[nodiscard]] Outcome<EmptyView> register_empty(const Photo& load, const Photo& empty, const Camera& camera,
                                                const Fixture& fixture, const std::vector<BlankPlace>& places);

}  // namespace jigtrue
