// Photos whose orientation tags contradict each other. A camera that looks straight down writes its tag by chance, and
// programs turn pictures; the lens stays where it is in the picture as the sensor has it.
#pragma once
#include "jigtrue/calibration/lens_file.hpp"
#include "jigtrue/calibration/lens_fit.hpp"
#include "jigtrue/calibration/match_marks.hpp"
#include "jigtrue/image/photo.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// The side of the bed at the top of a photo once that is turned.
[[nodiscard]] PhotoTop turned(PhotoTop top, PhotoTurn turn);

void turn(BoardCorners& corners, int width_px, int height_px, PhotoTurn turn);

// What was turned, in whole sentences, and the tag that all photos now lie by: the one that most have.
struct AlikePhotos {
  std::vector<std::string> notes;
  int orientation = 1;
};
[[nodiscard]] AlikePhotos turn_alike(std::vector<LensPhoto>& photos);

// Photos that contradict the lens, or have its picture's sides exchanged, and agree with it once turned, are turned.
// The sentences say which; none when there are none. The fit is then to be repeated.
[[nodiscard]] std::vector<std::string> turn_odd_ones(std::vector<LensPhoto>& photos, const LensFit& fit);

// The turn through which a board seen in a photo of this size fits the lens: none unless another fits clearly better,
// or the photo's sides are exchanged. Nothing when no turn has the lens's size.
[[nodiscard]] std::optional<PhotoTurn> turn_to_fit(const LensRecord& lens, const BoardCorners& corners, int width_px,
                                                   int height_px);

// "pose.jpg was turned by half a turn, to lie as the lens's photos do: its orientation tag says otherwise."
[[nodiscard]] std::string turn_note(const std::string& file, PhotoTurn turn, const std::string& why);

}  // namespace jigtrue
