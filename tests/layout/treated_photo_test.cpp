#include "jigtrue/layout/treated_photo.hpp"

#include "support/sample_result.hpp"

#include <cmath>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// One level rod of 138 mm seen from straight above, 4 px for a mm.
struct Seen {
  Fixture fixture;
  std::vector<SlotResult> slots;
};
Seen seen() {
  Seen out;
  Slot slot;
  slot.id = "1";
  slot.blank.shape = RoundBlank{11.0, 138.0};
  slot.seat.kind = FloorSeat{3.0};
  out.fixture.slots = {slot};
  const test::FlatView view;
  out.slots = {test::measured_slot(view, "1", {200, 150}, {0.3, 0.2}, 0.1)};
  Matrix3d map;
  map << 4, 0, 1000, 0, -4, 900, 0, 0, 1;
  out.slots[0].sketch.photo_from_design = map;
  return out;
}

TEST(TreatedPhoto, AddsNothingToAPhotoAsTheCameraSavedIt) {
  const Seen s = seen();
  EXPECT_EQ(treatment_px({false, 0.8}), 0.0);
  EXPECT_EQ(treatment_px({false, 0.0}), 0.0) << "a photo that tells nothing of its blur";
  const std::vector<SlotResult> same = widened_for_treatment({false, 0.8}, s.fixture, s.slots);
  EXPECT_EQ(same[0].numbers->uncertainty.across_mm, 0.05);
  EXPECT_TRUE(treatment_notes({false, 0.8}).empty());
}

TEST(TreatedPhoto, WidensByTheLawOfPropagation) {
  const Seen s = seen();
  const ExpandedUncertainty before = s.slots[0].numbers->uncertainty;
  const std::vector<SlotResult> wider = widened_for_treatment({true, 0.8}, s.fixture, s.slots);
  const SlotNumbers& n = *wider[0].numbers;
  const double sigma_mm = 0.2 / 4.0;
  EXPECT_NEAR(n.uncertainty.across_mm, std::hypot(before.across_mm, 1.96 * sigma_mm), 1e-12);
  EXPECT_NEAR(*n.uncertainty.along_mm, std::hypot(*before.along_mm, 1.96 * sigma_mm), 1e-12);
  const double turn_deg = deg_from_rad(std::atan(std::sqrt(2.0) * sigma_mm / 138.0));
  EXPECT_NEAR(n.uncertainty.rotation_deg, std::hypot(before.rotation_deg, 1.96 * turn_deg), 1e-12);
  ASSERT_EQ(n.budget.back().name, "photo without colour");
  EXPECT_NEAR(n.budget.back().across_mm, sigma_mm, 1e-12);
  const std::vector<std::string> notes = treatment_notes({true, 0.8});
  ASSERT_EQ(notes.size(), 1u);
  EXPECT_NE(notes[0].find("no colour"), std::string::npos);
}

TEST(TreatedPhoto, TakesWhatABlurExceedsAStraightPhotosByWhole) {
  EXPECT_NEAR(treatment_px({false, 1.25}), std::sqrt(1.25 * 1.25 - kStraight_px * kStraight_px), 1e-12);
  EXPECT_NEAR(treatment_px({true, 1.25}), std::hypot(0.2, treatment_px({false, 1.25})), 1e-12);
  EXPECT_LT(treatment_px({false, kStraight_px + 1e-6}), 0.01) << "no jump at the limit";
}

}  // namespace
}  // namespace jigtrue
