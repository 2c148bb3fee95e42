// Marks of known place and contrast on drawn loads: woods, metals, lights, blur and noise at random, the camera beside
// its calibration by what that states.
#include "jigtrue/inspection/inspect_load.hpp"

#include "jigtrue/inspection/apply_beam.hpp"
#include "jigtrue/inspection/judge_looks.hpp"
#include "jigtrue/measurement/measure_slot.hpp"

#include <array>
#include <cmath>
#include <string>

#include "inspection/burned_load.hpp"
#include <gtest/gtest.h>

namespace jigtrue::test {
namespace {

InspectionResult inspected(const BurnedLoad& burned) {
  return inspect_load(burned.photo, burned.load.stated, burned.blanks, burned.laid, {});
}

bool says(const InspectedSlot& slot, const std::string& words) {
  for (const std::string& reason : slot.reasons)
    if (reason.find(words) != std::string::npos) return true;
  return false;
}

struct Kind {
  LoadKind load;
  std::uint32_t seed;
};

TEST(InspectLoad, EveryMarkIsFoundWithinWhatIsStatedAndNoBareBlankIsClaimed) {
  const std::vector<double> contrasts = {0.8, 0.0, 0.35, 0.0, 0.12, -0.6};
  int inside = 0;
  int numbers = 0;
  for (const Kind kind :
       {Kind{LoadKind::round_in_vees, 14}, Kind{LoadKind::turned_on_floors, 12}, Kind{LoadKind::plates, 13}}) {
    const BurnedLoad burned = burned_load(kind.load, contrasts, {{0.4, -0.2}, 0.15}, kind.seed);
    const InspectionResult result = inspected(burned);
    for (std::size_t i = 0; i < contrasts.size(); ++i) {
      SCOPED_TRACE("seed " + std::to_string(kind.seed) + ", slot " + std::to_string(i + 1));
      const InspectedSlot& slot = result.slots[i];
      const TrueMark& mark = burned.marks[i];
      if (mark.contrast == 0.0) {
        EXPECT_EQ(slot.state, MarkState::unmarked);
        EXPECT_FALSE(slot.mark_mm.has_value());
        continue;
      }
      ASSERT_EQ(slot.state, MarkState::marked) << (slot.reasons.empty() ? "" : slot.reasons.front());
      ASSERT_TRUE(slot.mark_mm && slot.placed_uncertainty && slot.from_blank_mm);
      const Vector2d off = *slot.mark_mm - mark.centre_mm;
      // slots lie along the bed's X; three standard deviations are beyond one and a half half-widths
      EXPECT_LT(std::abs(off.x()), 1.6 * slot.placed_uncertainty->along_mm);
      EXPECT_LT(std::abs(off.y()), 1.6 * slot.placed_uncertainty->across_mm);
      inside += std::abs(off.x()) <= slot.placed_uncertainty->along_mm;
      inside += std::abs(off.y()) <= slot.placed_uncertainty->across_mm;
      numbers += 2;
      EXPECT_NEAR(*slot.contrast, mark.contrast, 0.05 * std::abs(mark.contrast) + 0.02);
      ASSERT_TRUE(slot.contrast_u);
      EXPECT_LT(std::abs(*slot.contrast - mark.contrast), 1.6 * *slot.contrast_u);
      EXPECT_LT(*slot.contrast_u, 0.12 * std::abs(mark.contrast) + 0.04);
      EXPECT_GT(slot.evenness.value_or(0.0), 0.85);
    }
    ASSERT_TRUE(result.beam);
    EXPECT_NEAR(result.beam->shift_mm.x(), 0.4, 1.6 * result.beam->shift_u_mm.x());
    EXPECT_NEAR(result.beam->shift_mm.y(), -0.2, 1.6 * result.beam->shift_u_mm.y());
    EXPECT_NEAR(result.beam->turn_deg, 0.15, 1.6 * result.beam->turn_u_deg);
  }
  // of 24 numbers of 95 % each, four or more lie outside once in a hundred times
  EXPECT_GE(inside, numbers - 4);
}

TEST(InspectLoad, TellsHalfAMarkAndADoubledOneFromAWholeOne) {
  const auto also = [](std::size_t slot, const Vector2d& uv) {
    // slot 2: burned twice, the second time a millimetre further along and a little to the left; slot 4: so near that
    // the two overlap
    if (slot == 1 && has_ink(uv - Vector2d(1.0, 0.6))) return 0.5;
    return slot == 3 && has_ink(uv - Vector2d(0.3, -0.25)) ? 0.5 : 0.0;
  };
  BurnedLoad burned = burned_load(LoadKind::round_in_vees, {0.5, 0.5, 0.5, 0.5}, {}, 21, also);
  const InspectionResult whole = inspected(burned);
  EXPECT_EQ(whole.slots[0].state, MarkState::marked);
  EXPECT_EQ(whole.slots[1].state, MarkState::doubtful);
  EXPECT_TRUE(says(whole.slots[1], "shows twice"));
  EXPECT_EQ(whole.slots[2].state, MarkState::marked);
  EXPECT_EQ(whole.slots[3].state, MarkState::doubtful);
  EXPECT_TRUE(says(whole.slots[3], "shows twice"));

  // slot 1: broken off in the middle
  DrawnSlot& there = burned.load.bed.slots[0];
  const auto burn = there.burn;
  const double middle = burned.marks[0].centre_mm.x();
  there.burn = [burn, middle](const Vector2d& bed) { return bed.x() < middle ? burn(bed) : 0.0; };
  burned.photo = photo_from(draw(burned.load.bed, 21));
  const InspectionResult broken = inspected(burned);
  EXPECT_EQ(broken.slots[0].state, MarkState::doubtful);
  EXPECT_TRUE(says(broken.slots[0], "missing"));
}

// Smoke on a bare blank is no mark; around a mark it is told from the mark and from scorched edges.
TEST(InspectLoad, TellsSmokeFromMarksAndFromScorchedEdges) {
  const auto smoke = [](const Vector2d& uv, double strength) {
    return strength * std::exp(-0.5 * (std::pow(uv.x() / 9.0, 2) + std::pow((uv.y() - 0.5) / 2.0, 2)));
  };
  const auto also = [&](std::size_t slot, const Vector2d& uv) {
    if (slot == 0) return smoke(uv, 0.35);  // and nothing burned
    // around the mark, as far as 18 mm along
    if (slot == 1) return has_ink(uv) ? 0.0 : 0.3 / (1.0 + std::exp((std::abs(uv.x()) - 18.0) / 0.8));
    if (slot != 2) return 0.0;
    for (int k = 0; k < 16; ++k) {  // a rim of a millimetre, nearly half as dark as the ink
      const Vector2d way(std::cos(k * kPi / 8.0), std::sin(k * kPi / 8.0));
      if (has_ink(uv + way) || has_ink(uv + 0.5 * way)) return 0.25;
    }
    return 0.0;
  };
  const BurnedLoad burned = burned_load(LoadKind::round_in_vees, {0.0, 0.6, 0.6, 0.6, 0.6}, {}, 14, also);
  InspectionResult result = inspected(burned);
  judge_looks({}, result);
  EXPECT_NE(result.slots[0].state, MarkState::marked);
  EXPECT_TRUE(says(result.slots[1], "smoke"));
  EXPECT_TRUE(says(result.slots[2], "scorched"));
  for (const std::size_t clean : {3, 4}) {
    EXPECT_FALSE(says(result.slots[clean], "smoke")) << clean;
    EXPECT_FALSE(says(result.slots[clean], "scorched")) << clean;
  }
}

TEST(InspectLoad, TellsAMarkInTheFloorOfAnEmptySlot) {
  for (const LoadKind kind : {LoadKind::plates, LoadKind::round_on_floors, LoadKind::round_in_vees}) {
    BurnedLoad burned = burned_load(kind, {0.6, 0.6, 0.6}, {}, 24);
    // its blank was taken out before the burn
    burned.load.bed.slots[1].blank.reset();
    SlotResult& empty = burned.blanks.slots[1];
    empty.state = SlotState::empty;
    empty.numbers.reset();
    burned.photo = photo_from(draw(burned.load.bed, 24));
    const InspectionResult result = inspected(burned);
    EXPECT_EQ(result.slots[0].state, MarkState::marked);
    EXPECT_EQ(result.slots[1].state, MarkState::doubtful);
    EXPECT_TRUE(says(result.slots[1], "burned into the fixture"));
    // nor is any mark claimed where nothing was burned
    burned.load.bed.slots[1].burn = {};
    burned.photo = photo_from(draw(burned.load.bed, 24));
    EXPECT_EQ(inspected(burned).slots[1].state, MarkState::unmarked);
  }
}

TEST(InspectLoad, APhotoFromBeforeTheBurnIsTold) {
  const BurnedLoad burned = burned_load(LoadKind::round_on_floors, {0.0, 0.0, 0.0}, {}, 31);
  const InspectionResult result = inspected(burned);
  for (const InspectedSlot& slot : result.slots) EXPECT_EQ(slot.state, MarkState::unmarked) << slot.id;
  ASSERT_FALSE(result.notes.empty());
  EXPECT_NE(result.notes.front().find("before the burn"), std::string::npos);
  EXPECT_FALSE(result.beam.has_value());
  EXPECT_TRUE(result.needs_person());
}

TEST(InspectLoad, APhotoWithoutTheLoadIsTold) {
  BurnedLoad burned = burned_load(LoadKind::plates, {0.0, 0.0}, {}, 32);
  for (DrawnSlot& there : burned.load.bed.slots) there.blank.reset();
  for (SlotResult& empty : burned.blanks.slots) {
    empty.state = SlotState::empty;
    empty.numbers.reset();
  }
  burned.photo = photo_from(draw(burned.load.bed, 32));
  const InspectionResult result = inspected(burned);
  for (const InspectedSlot& slot : result.slots) EXPECT_EQ(slot.state, MarkState::unmarked) << slot.id;
  ASSERT_EQ(result.notes.size(), 1U);
  EXPECT_NE(result.notes.front().find("another fixture"), std::string::npos);
  EXPECT_TRUE(result.needs_person());
}

// A load of five pens, burned by a beam 0.4 mm off, inspected; the next load is placed by the same camera with what was
// found taken off: what is left of the beam's error, as the camera has it, is below 0.05 mm. The camera's own error is
// in both loads alike.
TEST(InspectLoad, ClosesTheLoopWithinOneLoad) {
  const Vector2d off(0.35, -0.2);
  const BurnedLoad first = burned_load(LoadKind::round_in_vees, {0.6, 0.6, 0.6, 0.6, 0.6}, {off, 0.0}, 41);
  const InspectionResult result = inspected(first);
  ASSERT_TRUE(result.beam);
  // how far off the camera sees the point where the marks lie
  const Slot& slot = first.laid.fixture.slots[2];
  const double height_mm = design_height_mm(slot.blank, slot.seat, nominal_place(slot), 0.0);
  const Vector3d there(slot.centre_mm.x(), slot.centre_mm.y(), height_mm);
  const auto px = project_bed_point(first.load.bed.camera, there);
  ASSERT_TRUE(px);
  const auto seen = bed_point_at(first.load.stated, *px, height_mm);
  ASSERT_TRUE(seen);
  const Vector2d by_camera = off + seen->mm - there.head<2>();
  EXPECT_LT((by_camera - result.beam->shift_mm).norm(), 0.05);

  // the next load: told what was found, the same beam burns it, and its marks are drawn and inspected
  CheckResult next;
  next.slots.push_back(first.blanks.slots[2]);
  apply_beam(*result.beam_offset(), "inspection.json", next);
  const Vector2d told = next.slots.front().numbers->centre_mm - first.blanks.slots[2].numbers->centre_mm;
  const BurnedLoad second = burned_load(LoadKind::round_in_vees, {0.6, 0.6, 0.6, 0.6, 0.6}, {off + told, 0.0}, 41);
  const InspectionResult again = inspected(second);
  ASSERT_TRUE(again.beam);
  EXPECT_LT(again.beam->shift_mm.norm(), 0.05);
}

TEST(InspectLoad, AnotherDrawingThanTheOneLaidOutIsNotTakenForIt) {
  BurnedLoad burned = burned_load(LoadKind::round_in_vees, {0.7, 0.5, 0.4}, {}, 14);
  burned.laid.art = common_art(read_artwork(
      R"svg(<svg xmlns="http://www.w3.org/2000/svg" width="26mm" height="4mm" viewBox="0 0 26 4">
<path d="M0,4L3,0L6,4ZM8,0h6v1h-6ZM8,3h6v1h-6ZM16,2a2,2 0 1 0 4,0a2,2 0 1 0 -4,0ZM22,0h1v4h-1ZM25,0h1v4h-1Z"/></svg>)svg",
      "another.svg"));
  for (const InspectedSlot& slot : inspected(burned).slots) {
    EXPECT_NE(slot.state, MarkState::marked) << slot.id;
    EXPECT_FALSE(slot.spoiled) << slot.id;
  }
}

// A drawing turned end for end, or another slot's, is told by the same proof as the slot's own: a piece of it is not
// it.
TEST(InspectLoad, TellsADrawingTurnedRoundAndAnotherSlotsOwn) {
  const auto also = [](std::size_t slot, const Vector2d& uv) {
    const bool is_piece = uv.x() < -7.0;
    return (slot == 0 || (slot == 1 && is_piece)) && has_ink(-uv) ? 0.6 : 0.0;
  };
  BurnedLoad burned = burned_load(LoadKind::round_in_vees, {0.0, 0.0, 0.6, 0.6}, {}, 61, also);
  const auto own = read_artwork(
      R"svg(<svg xmlns="http://www.w3.org/2000/svg" width="26mm" height="4mm" viewBox="0 0 26 4">
<path d="M0,4L3,0L6,4ZM8,0h6v1h-6ZM8,3h6v1h-6ZM16,2a2,2 0 1 0 4,0a2,2 0 1 0 -4,0ZM22,0h1v4h-1ZM25,0h1v4h-1Z"/></svg>)svg",
      "another.svg");
  burned.laid.art.own = {{burned.laid.fixture.slots[2].id, common_art(own).common},
                         {burned.laid.fixture.slots[3].id, burned.laid.art.common}};
  const InspectionResult result = inspected(burned);
  EXPECT_TRUE(says(result.slots[0], "turned end for end"));
  EXPECT_TRUE(result.slots[0].spoiled);
  EXPECT_FALSE(says(result.slots[1], "turned end for end"));
  EXPECT_FALSE(result.slots[1].spoiled);
  EXPECT_TRUE(says(result.slots[2], "the drawing of slot " + result.slots[3].id));
  EXPECT_EQ(result.slots[3].state, MarkState::marked);
}

TEST(InspectLoad, ReadsTheBeamFromAProofOnTapeBeforeABlankIsSpent) {
  for (const Kind kind : {Kind{LoadKind::round_in_vees, 51}, Kind{LoadKind::plates, 52}}) {
    SCOPED_TRACE("seed " + std::to_string(kind.seed));
    const BurnedLoad burned = taped_load(kind.load, 0.5, {{0.4, -0.25}, 0.1}, kind.seed);
    const InspectionResult result = inspected(burned);
    const InspectedSlot& taped = result.slots[1];
    ASSERT_EQ(taped.state, MarkState::marked) << (taped.reasons.empty() ? "" : taped.reasons.front());
    // the other blanks are bare, and nothing was due there
    EXPECT_FALSE(result.needs_person());
    EXPECT_TRUE(result.notes.empty());
    ASSERT_TRUE(result.beam);
    const BeamReading& beam = *result.beam;
    const Vector2d placed = burned.laid.placed.front().centre_mm;
    EXPECT_EQ(beam.about_mm, placed);  // one mark tells the shift where it lies
    const Vector2d off = burned.marks[1].centre_mm - placed;
    EXPECT_NEAR(beam.shift_mm.x(), off.x(), 1.6 * beam.shift_u_mm.x());
    EXPECT_NEAR(beam.shift_mm.y(), off.y(), 1.6 * beam.shift_u_mm.y());
    EXPECT_NEAR(beam.turn_deg, 0.1, 1.6 * beam.turn_u_deg);
    EXPECT_LT(beam.own_u_mm.maxCoeff(), 0.08);
  }
}

TEST(InspectLoad, ClaimsNoFrameOnTapeThatIsBare) {
  const BurnedLoad burned = taped_load(LoadKind::round_in_vees, 0.0, {}, 53);
  const InspectionResult result = inspected(burned);
  EXPECT_NE(result.slots[1].state, MarkState::marked);
  EXPECT_TRUE(result.needs_person());
  EXPECT_FALSE(result.beam.has_value());
}

}  // namespace
}  // namespace jigtrue::test
