// Published: ISO 14253-1, decision rules for verifying conformity. What is proved to be inside the limit with the
// expanded uncertainty taken off conforms; what is proved to be outside with it added does not; between the two nothing
// is proved either way. (The rule as secondary pages tell it; the standard itself was not at hand.)
#include "jigtrue/layout/usable_band.hpp"

#include <string>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

enum class Verdict { conforms, unproved, fails };

Verdict verdict(const SlotResult& slot) {
  if (*slot.design_fits) return Verdict::conforms;
  return slot.design_note.rfind("cannot be proved", 0) == 0 ? Verdict::unproved : Verdict::fails;
}

// A design of this height on a barrel that takes ink 2.75 mm to either side of its crown, known to u.
Verdict of_height(double height_mm, double u_mm) {
  SlotResult slot;
  slot.design = DesignBox{75.0, height_mm};
  DesignRoom room;
  room.left_mm = room.right_mm = 2.75;
  room.forward_mm = room.backward_mm = 60.0;
  room.u_across_mm = u_mm;
  room.u_along_mm = 0.25;
  room.diameter_mm = 11.0;
  room.design_width_mm = 75.0;
  slot.room = room;
  judge_design(slot);
  return verdict(slot);
}

Verdict of_width(double width_mm) {
  SlotResult slot;
  slot.design = DesignBox{width_mm, 4.0};
  DesignRoom room;
  room.left_mm = room.right_mm = 2.75;
  room.forward_mm = room.backward_mm = 40.0;
  room.u_across_mm = 0.0625;
  room.u_along_mm = 0.25;
  room.diameter_mm = 11.0;
  slot.room = room;
  judge_design(slot);
  return verdict(slot);
}

// Numbers that binary fractions hold exactly, so that the ends of the zones can be asked for. Each of the two edges may
// be off by u.
TEST(Iso14253, HeightConformsOnlyInsideTheGuardBand) {
  constexpr double u = 0.125;
  EXPECT_EQ(of_height(5.0, u), Verdict::conforms);
  EXPECT_EQ(of_height(5.25, u), Verdict::conforms);  // 5.5 - 2 u: the end belongs to it
  EXPECT_EQ(of_height(5.25 + 1e-9, u), Verdict::unproved);
  EXPECT_EQ(of_height(5.5, u), Verdict::unproved);
  EXPECT_EQ(of_height(5.75, u), Verdict::unproved);  // 5.5 + 2 u
  EXPECT_EQ(of_height(5.75 + 1e-9, u), Verdict::fails);
  EXPECT_EQ(of_height(8.0, u), Verdict::fails);
}

TEST(Iso14253, WithoutUncertaintyThereIsNoZoneBetween) {
  EXPECT_EQ(of_height(5.5, 0.0), Verdict::conforms);
  EXPECT_EQ(of_height(5.5 + 1e-9, 0.0), Verdict::fails);
}

TEST(Iso14253, MoreUncertaintyNeverProvesMore) {
  for (double height = 4.0; height < 7.0; height += 0.03125) {
    for (double u = 0.0; u < 0.5; u += 0.03125) {
      const Verdict before = of_height(height, u);
      const Verdict after = of_height(height, u + 0.03125);
      if (after != Verdict::unproved) {
        EXPECT_EQ(before, after) << height << " mm, u " << u;
      }
    }
  }
}

TEST(Iso14253, WidthToo) {
  EXPECT_EQ(of_width(79.5), Verdict::conforms);
  EXPECT_EQ(of_width(79.5 + 1e-9), Verdict::unproved);
  EXPECT_EQ(of_width(80.5), Verdict::unproved);
  EXPECT_EQ(of_width(80.5 + 1e-9), Verdict::fails);
}

}  // namespace
}  // namespace jigtrue
