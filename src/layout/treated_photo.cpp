#include "jigtrue/layout/treated_photo.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/text.hpp"

#include <cmath>

namespace jigtrue {
namespace {

constexpr double kGrey_px = 0.2;

double blur_px(const PhotoTreatment& treatment) {
  const double squared = treatment.blur_px * treatment.blur_px - kStraight_px * kStraight_px;
  return squared > 0.0 ? std::sqrt(squared) : 0.0;
}

// About the design's centre.
double mm_per_px(const Matrix3d& photo_from_design) {
  const auto at = [&](double along, double across) -> Vector2d {
    return (photo_from_design * Vector3d(along, across, 1.0)).hnormalized();
  };
  const Vector2d along = at(0.5, 0.0) - at(-0.5, 0.0);
  const Vector2d across = at(0.0, 0.5) - at(0.0, -0.5);
  return 1.0 / std::sqrt(std::abs(along.x() * across.y() - along.y() * across.x()));
}

void widen(const std::string& cause, double sigma_mm, double length_mm, SlotNumbers& numbers) {
  const double turn_deg = numbers.uncertainty.rotation_deg > 0.0
                              ? deg_from_rad(std::atan(std::sqrt(2.0) * sigma_mm / length_mm))
                              : 0.0;  // of a disc there is none
  numbers.budget.push_back({cause, sigma_mm, sigma_mm, turn_deg});
  ExpandedUncertainty& u = numbers.uncertainty;
  u.across_mm = std::hypot(u.across_mm, kCoverageFactor95 * sigma_mm);
  if (u.along_mm) u.along_mm = std::hypot(*u.along_mm, kCoverageFactor95 * sigma_mm);
  u.rotation_deg = std::hypot(u.rotation_deg, kCoverageFactor95 * turn_deg);
  if (u.diameter_mm) u.diameter_mm = std::hypot(*u.diameter_mm, kCoverageFactor95 * std::sqrt(2.0) * sigma_mm);
}

}  // namespace

double treatment_px(const PhotoTreatment& treatment) {
  return std::hypot(treatment.grey ? kGrey_px : 0.0, blur_px(treatment));
}

std::vector<SlotResult> widened_for_treatment(const PhotoTreatment& treatment, const Fixture& fixture,
                                              std::vector<SlotResult> slots) {
  const double px = treatment_px(treatment);
  if (px <= 0.0) return slots;
  const bool blurred = blur_px(treatment) > 0.0;
  const std::string cause = !blurred ? "photo without colour" : treatment.grey ? "photo treated" : "photo blurred";
  for (std::size_t i = 0; i < slots.size(); ++i) {
    SlotResult& slot = slots[i];
    if (!slot.numbers || !slot.sketch.photo_from_design) continue;
    widen(cause, px * mm_per_px(*slot.sketch.photo_from_design), length_mm(fixture.slots[i].blank.shape),
          *slot.numbers);
  }
  return slots;
}

std::vector<std::string> treatment_notes(const PhotoTreatment& treatment) {
  std::vector<std::string> notes;
  if (treatment.grey)
    notes.emplace_back(
        "The photo has no colour: the border of a shadow cannot be told from a blank's, and the half-widths are wider "
        "for it. Give the photo as the camera saved it.");
  if (blur_px(treatment) > 0.0)
    notes.push_back("The photo's sharpest edges are blurred by " + fixed_text(treatment.blur_px, 1) +
                    " px, as in a copy that was made smaller and enlarged again, or out of focus; the half-widths "
                    "are wider for it. Give the photo as the camera saved it, in focus.");
  return notes;
}

}  // namespace jigtrue
