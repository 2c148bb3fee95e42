#include "jigtrue/calibration/focal_length.hpp"

#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

bool differ(double a_mm, double b_mm) { return std::abs(a_mm / b_mm - 1.0) > 0.01; }

std::string focal_text(double focal_mm) { return fixed_text(focal_mm, 1) + " mm"; }

}  // namespace

LensFocalLength focal_length_of(const std::vector<LensPhoto>& photos) {
  std::vector<double> said;
  for (const LensPhoto& photo : photos)
    if (photo.corners && photo.focal_mm) said.push_back(*photo.focal_mm);
  if (said.empty()) return {};
  const auto middle = said.begin() + static_cast<std::ptrdiff_t>(said.size() / 2);
  std::nth_element(said.begin(), middle, said.end());
  LensFocalLength out{*middle, {}};
  for (const LensPhoto& photo : photos)
    if (photo.corners && photo.focal_mm && differ(*photo.focal_mm, *middle))
      out.notes.push_back(photo.file + " says it was taken at " + focal_text(*photo.focal_mm) + ", the others at " +
                          focal_text(*middle) + ": by another of the camera's lenses, or zoomed. Leave it out.");
  return out;
}

std::optional<Failure> other_focal_length(const Photo& photo, const LensRecord& lens) {
  if (!photo.focal_mm || !lens.focal_mm || !differ(*photo.focal_mm, *lens.focal_mm)) return std::nullopt;
  return Failure{"the photo says it was taken at " + focal_text(*photo.focal_mm) + ", zoom included, the lens's at " +
                     focal_text(*lens.focal_mm) + ": by another of the camera's lenses, or zoomed",
                 FailureCode::unspecified, "take it as the lens's photos were taken, or run lens and pose anew"};
}

}  // namespace jigtrue
