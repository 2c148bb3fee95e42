// Whether photos were taken as the lens's were: what cameras write of it into their files (EXIF). Phones change between
// their lenses by themselves, and a zoom is easily touched; every place in the picture is then wrong by that ratio.
#pragma once
#include "jigtrue/base/error.hpp"
#include "jigtrue/calibration/lens_file.hpp"
#include "jigtrue/image/photo.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// What most of the photos with a board say, and a sentence for each that says otherwise.
struct LensFocalLength {
  std::optional<double> focal_mm;
  std::vector<std::string> notes;
};
[[nodiscard]] LensFocalLength focal_length_of(const std::vector<LensPhoto>& photos);

// What is wrong with a photo that says it was taken at another focal length than the lens's photos: by more than 1 %,
// as cameras round what they write. Nothing where either does not say.
[[nodiscard]] std::optional<Failure> other_focal_length(const Photo& photo, const LensRecord& lens);

}  // namespace jigtrue
