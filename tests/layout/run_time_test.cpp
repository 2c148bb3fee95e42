#include "jigtrue/layout/run_time.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

InkShape box(double width, double height) {
  InkShape shape;
  shape.fill = "black";
  SubPath path{{-width / 2, -height / 2}, {}, true};
  for (const Vector2d& p :
       {Vector2d(width / 2, -height / 2), Vector2d(width / 2, height / 2), Vector2d(-width / 2, height / 2)})
    path.segments.push_back({false, p, p, p});
  shape.outline = {path};
  return shape;
}

PlacedDesign placed(const std::vector<Pass>& passes, const Vector2d& at, double axis_deg = 0.0) {
  PlacedDesign design;
  design.slot_id = "1";
  design.bed_centre_mm = at;
  design.axis_deg = axis_deg;
  design.passes = std::make_shared<const std::vector<Pass>>(passes);
  return design;
}

// A worked example of common practice (no source): five pens with 60 x 4.5 mm of lettering, 120 lines per centimetre
// (about 300 to the inch) at 150 mm/s with 3 mm of overscan, are done in about two minutes.
TEST(RunTime, MatchesTheWorkedExampleOfFivePens) {
  const Pass pass{"names", {box(60, 4.5)}, PassTiming{PassKind::scan, 150.0, 120.0, 3.0, 1}};
  Placement placement;
  for (int i = 0; i < 5; ++i) placement.placed.push_back(placed({pass}, {150, 142.0 + 24 * i}));
  const RunTime run = estimate_run_time(placement);
  // by hand: 4.5 mm * 12 lines per mm = 54 lines of 66 mm each: 54 * 66 / 150 = 23.8 s a pen, 119 s in all; where the
  // first line falls may add one line to each pen
  EXPECT_NEAR(run.seconds, 5 * 54 * 66.0 / 150.0, 5 * 66.0 / 150.0 + 1e-9);
  EXPECT_GT(run.seconds, 100.0);
  EXPECT_LT(run.seconds, 140.0);
  ASSERT_EQ(run.passes.size(), 1u);
  EXPECT_NEAR(static_cast<double>(run.passes[0].lines), 270, 5);
}

TEST(RunTime, ScansOnlyWhereInkIsAndAlongTheBed) {
  // upright on the bed the same box takes 60 mm * 10 lines of 4.5 mm
  const Pass pass{"p", {box(60, 4.5)}, PassTiming{PassKind::scan, 100.0, 100.0, 2.0, 3}};
  Placement upright;
  upright.placed = {placed({pass}, {150, 150.05}, 90.0)};
  EXPECT_NEAR(estimate_run_time(upright).seconds, 3 * 600 * 8.5 / 100.0, 3 * 8.5 / 100.0 + 1e-6);
  // two thin bars with nothing between: no line runs there
  InkShape apart = box(60, 0.95);
  const std::vector<InkShape> bars = {moved({apart}, {0, -5})[0], moved({apart}, {0, 5})[0]};
  Placement two;
  two.placed = {placed({{"p", bars, pass.timing}}, {150, 150})};
  EXPECT_NEAR(static_cast<double>(estimate_run_time(two).passes[0].lines), 3 * 19, 3 * 2);
}

TEST(RunTime, TracesOutlinesAndJumpsBetween) {
  const Pass pass{"cut", {box(10, 5)}, PassTiming{PassKind::trace, 20.0, 0, 0, 2}};
  Placement placement;
  placement.placed = {placed({pass}, {100, 100}), placed({pass}, {100, 160})};
  // twice 2 * 30 mm at 20 mm/s, and the way of 60 mm from one to the other, twice, at 300 mm/s
  EXPECT_NEAR(estimate_run_time(placement, 300.0).seconds, 2 * 60 / 20.0 + 2 * 60 / 300.0, 1e-9);
}

TEST(RunTime, NamesPassesThatDeclareNothing) {
  Placement placement;
  placement.placed = {placed({{"fill", {box(10, 5)}, {}}}, {100, 100})};
  const RunTime run = estimate_run_time(placement);
  EXPECT_EQ(run.seconds, 0.0);
  EXPECT_EQ(run.undeclared, std::vector<std::string>{"fill"});
}

}  // namespace
}  // namespace jigtrue
