// What a measured outline speaks for: edges where it says, against edges counted where none is.
#include "jigtrue/detection/outline_evidence.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr double kRange_px = 3.0;

EdgeBlock stretch(OutlinePart part, double off_px, double misfit_ratio, double strength = 5.0) {
  EdgeBlock block;
  block.part = part;
  block.by_place[kAcross] = 5.0;  // px per mm
  block.places = {{0.0, 0.05, misfit_ratio, strength}};
  block.edge.position_px = 0.0;
  block.residual_px = off_px;
  block.inside = {150.0, -10.0, 10.0};
  block.outside = {60.0, 0.0, 0.0};
  return block;
}

OutlineFit outline(double off_px, double misfit_ratio, double strength = 5.0) {
  OutlineFit fit;
  for (const OutlinePart part : kAllOutlineParts)
    for (int i = 0; i < 8; ++i) fit.blocks.push_back(stretch(part, off_px, misfit_ratio, strength));
  return fit;
}

// A picture in which every tenth stretch of three pixels either way shows an edge of this misfit ratio.
EdgeClutter clutter_of_ratio(double misfit_ratio) {
  std::vector<EdgeBlock> blocks(200);
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    blocks[i].part = i % 2 == 0 ? OutlinePart::left : OutlinePart::end;
    if (i % 20 < 2) blocks[i].places = {{0.0, 0.1, misfit_ratio, 5.0}};
  }
  EdgeClutter clutter;
  clutter.add(blocks, kRange_px);
  clutter.finish();
  return clutter;
}

TEST(EdgeClutter, CountsEdgesAtLeastAsPlainForEachPixelLookedAt) {
  const EdgeClutter clutter = clutter_of_ratio(4.0);
  // 100 stretches of 6 px of either kind, 10 of them with an edge; one more is always supposed, in 20 px more
  EXPECT_NEAR(clutter.per_px(OutlinePart::left, 3.0), 11.0 / 620.0, 1e-12);
  EXPECT_NEAR(clutter.per_px(OutlinePart::start, 3.0), 11.0 / 620.0, 1e-12);
  EXPECT_NEAR(clutter.per_px(OutlinePart::right, 5.0), 1.0 / 620.0, 1e-12);
}

TEST(OutlineEvidence, IsTheLikelihoodRatioOfOneEdgeOnTheOutline) {
  OutlineFit fit;
  fit.blocks = {stretch(OutlinePart::left, 0.0, 8.0)};
  const EdgeClutter clutter = clutter_of_ratio(4.0);
  // sigma: 0.05 of the edge, 0.2 of the model, 0.06 mm of 5 px each of the blank's form
  const double sigma_px = std::sqrt(0.05 * 0.05 + 0.2 * 0.2 + 0.3 * 0.3);
  const double density = 1.0 / (std::sqrt(2.0 * kPi) * sigma_px);
  const double expected = std::log(0.15 + 0.85 * density * 620.0);
  EXPECT_NEAR(evidence_of(fit, clutter)[0].log_ratio, expected, 1e-9);
}

TEST(OutlineEvidence, SpeaksForAnOutlineThatEdgesLieOnAndAgainstOneThatTheyMiss) {
  const EdgeClutter clutter = clutter_of_ratio(4.0);
  for (const PartEvidence& part : evidence_of(outline(0.1, 8.0), clutter)) {
    EXPECT_TRUE(is_shown(part));
    EXPECT_EQ(part.agreeing, 8);
  }
  for (const PartEvidence& part : evidence_of(outline(3.5, 8.0), clutter)) {
    EXPECT_FALSE(is_shown(part));
    EXPECT_NEAR(part.log_ratio, 8.0 * std::log(0.15), 0.01);
  }
}

TEST(OutlineEvidence, IsLessWhereThePhotoIsFullOfSuchEdges) {
  EXPECT_GT(evidence_of(outline(0.1, 3.0), clutter_of_ratio(2.0))[0].log_ratio,
            evidence_of(outline(0.1, 3.0), clutter_of_ratio(4.0))[0].log_ratio + 8.0);
}

// Plain to a fit, as a flat dark ground has hardly any noise, and yet not to be seen.
TEST(OutlineEvidence, DoesNotBelieveEdgesFainterThanRounding) {
  for (const PartEvidence& part : evidence_of(outline(0.0, 30.0, 0.3), clutter_of_ratio(4.0)))
    EXPECT_FALSE(is_shown(part));
}

TEST(TwoMaterials, AreToldByADifferenceThatAllPartsShare) {
  const OutlineFit another = outline(0.0, 8.0);
  EXPECT_GT(two_materials_log_ratio(another), 3.0);

  OutlineFit walls = another;  // one material, lit differently on either side of the walls
  for (EdgeBlock& block : walls.blocks) {
    block.inside = {80.0, -8.0, 8.0};
    block.outside = {120.0, -12.0, 12.0};
    if (block.part == OutlinePart::right || block.part == OutlinePart::end) std::swap(block.inside, block.outside);
  }
  EXPECT_LT(two_materials_log_ratio(walls), 0.0);
}

}  // namespace
}  // namespace jigtrue
