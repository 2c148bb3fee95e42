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
#include "jigtrue/measurement/changed_cells.hpp"

#include <array>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue {

// How the jig lies in the load against how it lay in the empty photo.
struct JigMotion {
  Vector2d shift_mm = Vector2d::Zero();  // of the slots' common centre, bed
  double turn_deg = 0.0;                 // about it
};

struct EmptyView {
  JigMotion motion;
  // The empty jig as the load's camera would see it now: moved to where the jig lies, in the load's light, in the
  // load's pixels. Beyond the surroundings of the slots it shows nothing of use: see `known`.
  Photo photo;
  cv::Rect known;
  // Of (load - photo) where nothing has changed, grey levels, 1 sigma: luma, blue and red chroma.
  std::array<double, 3> noise{};
  double place_sigma_px = 0.0;  // how well it is registered, in the load's pixels
  double agreement = 0.0;       // share of what is to be seen beside the slots that both photos show, 0 to 1
  ChangedCells changes;
};

// `places`: where the blanks are expected, one a slot. The two photos are of one size. Fails, saying why, where the
// empty photo is not one of this jig at about this place by this camera.
[[nodiscard]] Outcome<EmptyView> register_empty(const Photo& load, const Photo& empty, const Camera& camera,
                                                const Fixture& fixture, const std::vector<BlankPlace>& places);

}  // namespace jigtrue
