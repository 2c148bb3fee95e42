// annotated.jpg before it is encoded: the photo with what was measured drawn on it, and a legend below.
#pragma once
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/measurement/slot_result.hpp"

namespace jigtrue {

// The longer side of the photo part, px; text is at least 22 px high there and grows smaller only with the picture.
inline constexpr int kAnnotatedSide_px = 1600;

// As wide as the shrunk photo; higher than it by the legend strip at the bottom. State is told by colour, line style
// and symbol. Arrows from the nominal to the corrected place are drawn larger than life where that is small: the legend
// says how much. Labels do not cover each other: where room is short they hold the slot's name alone.
// `remarks` are added to the legend.
[[nodiscard]] cv::Mat3b annotated_picture(const CheckResult& result, ShrunkPicture photo,
                                          const std::vector<std::string>& remarks = {});

// The slots alone, as large as they can be: cut out of the photo, outlines and what is to be engraved drawn on it, and
// each slot's name, legible where the picture is as wide as a phone. Its longer side is at most 1400 px.
[[nodiscard]] cv::Mat3b closeup_picture(const CheckResult& result, const Photo& photo);

}  // namespace jigtrue
