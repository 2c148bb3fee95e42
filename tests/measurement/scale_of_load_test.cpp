// A map of the wrong scale, told from what a load shows. Rows of invented rods of 138 x 11 mm, 24 mm apart.
#include "jigtrue/measurement/scale_of_load.hpp"

#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr double kCamera_mm = 450.0;

// As measured: lengths, girths and places each times its own factor; blanks stray by some tenths along, some hundredths
// of a millimetre across.
struct Rods {
  Fixture fixture;
  std::vector<SlotResult> slots;

  Rods(double lengths, double girths, double places, int count = 6) {
    for (int i = 0; i < count; ++i) {
      Slot slot;
      slot.centre_mm = {200.0, 100.0 + 24.0 * i};
      slot.blank.shape = RoundBlank{11.0, 138.0};
      fixture.slots.push_back(slot);
      const double stray = 0.02 * ((7 * i) % 5 - 2);
      SlotResult result;
      result.seen = SeenSize{lengths * 138.0 + 2.0 * stray, girths * 11.0 + stray,
                             Vector2d(places * 200.0 + 5.0 * stray, places * slot.centre_mm.y() + stray)};
      slots.push_back(result);
    }
  }
  [[nodiscard]] std::string said() const { return scale_of_load(fixture, slots, kCamera_mm); }
};

TEST(ScaleOfLoad, NamesTheScaleWithItsFigure) {
  const std::string said = Rods(0.98, 0.98, 0.98).said();
  EXPECT_NE(said.find("2.0 %"), std::string::npos) << said;
  EXPECT_NE(said.find("smaller than the file says"), std::string::npos) << said;
  EXPECT_NE(said.find("squares of the board"), std::string::npos) << said;
  EXPECT_NE(said.find("larger than --board said"), std::string::npos) << said;
  EXPECT_NE(said.find("9 mm lower"), std::string::npos) << said;  // 2 % of the camera's height
  EXPECT_NE(Rods(1.03, 1.03, 1.03).said().find("3.0 %"), std::string::npos);
}

TEST(ScaleOfLoad, HoldsItsTongueOnALoadAsDeclared) { EXPECT_EQ(Rods(1.0, 1.0, 1.0).said(), ""); }

// Shorter blanks, a jig of another pitch: a wrong figure in the file.
TEST(ScaleOfLoad, OneKindOfSizeAloneNamesNothing) {
  EXPECT_EQ(Rods(0.98, 1.0, 1.0).said(), "");
  EXPECT_EQ(Rods(1.0, 1.0, 0.98).said(), "");
  EXPECT_EQ(Rods(1.0, 0.98, 1.0).said(), "");
}

TEST(ScaleOfLoad, KindsThatContradictNameNothing) { EXPECT_EQ(Rods(0.98, 1.03, 0.98).said(), ""); }

TEST(ScaleOfLoad, TwoBlanksAreTooFew) { EXPECT_EQ(Rods(0.98, 0.98, 0.98, 2).said(), ""); }

}  // namespace
}  // namespace jigtrue
