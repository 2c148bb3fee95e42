// A good photo made worse until nothing can be measured: then it is refused by name, and never measured wrongly on the
// way.
#include "jigtrue/base/error.hpp"

#include "property/loaded_bed.hpp"
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

namespace jigtrue::test {
namespace {

using testing::AllOf;
using testing::HasSubstr;

LoadedBed exposed(double gain) {
  LoadedBed bed = pens();
  bed.photo.luma.convertTo(bed.photo.luma, CV_8U, gain);
  for (cv::Mat1b* chroma : {&bed.photo.cb, &bed.photo.cr})
    chroma->convertTo(*chroma, CV_8U, std::min(gain, 1.0), 128.0 * (1.0 - std::min(gain, 1.0)));
  return bed;
}

LoadedBed blurred(double sigma_px) {
  LoadedBed bed = pens();
  cv::GaussianBlur(bed.photo.luma, bed.photo.luma, {}, sigma_px);
  for (cv::Mat1b* chroma : {&bed.photo.cb, &bed.photo.cr}) cv::GaussianBlur(*chroma, *chroma, {}, sigma_px / 2.0);
  return bed;
}

std::string refusal(const LoadedBed& bed) {
  try {
    const PhotoFindings result = bed.measured();
    std::string states;
    for (const SlotResult& slot : result.slots) states += std::string(" ") + to_string(slot.state);
    return "not refused:" + states;
  } catch (const InputError& error) {
    return error.what();
  }
}

TEST(SpoiledPhoto, TooDarkIsRefusedByName) {
  EXPECT_THAT(refusal(exposed(0.02)), AllOf(HasSubstr("photo.jpg"), HasSubstr("too dark"), HasSubstr("more light")));
}

TEST(SpoiledPhoto, BurnedOutIsRefusedByName) {
  EXPECT_THAT(refusal(exposed(40.0)),
              AllOf(HasSubstr("photo.jpg"), HasSubstr("burned out"), HasSubstr("expose it less")));
}

TEST(SpoiledPhoto, TooBlurredIsRefusedByName) {
  EXPECT_THAT(refusal(blurred(9.0)), AllOf(HasSubstr("photo.jpg"), HasSubstr("too blurred"), HasSubstr("focus")));
}

TEST(SpoiledPhoto, OfAnotherBedIsRefusedByName) {
  LoadedBed bed = pens();
  for (Slot& slot : bed.fixture.slots) slot.centre_mm += Vector2d(3000.0, 0.0);
  EXPECT_THAT(refusal(bed),
              AllOf(HasSubstr("photo.jpg"), HasSubstr("none of the fixture's slots lies in the picture")));
}

// On the way from good to bad a number is either still true to what it states or not given.
class Spoiling : public testing::TestWithParam<double> {};

TEST_P(Spoiling, ByDarknessNeverGivesAWrongNumber) {
  const PhotoFindings good = pens().measured();
  const LoadedBed bed = exposed(GetParam());
  PhotoFindings worse;
  try {
    worse = bed.measured();
  } catch (const InputError&) {
    return;
  }
  int compared = 0;
  for (std::size_t i = 0; i < good.slots.size(); ++i) {
    const SlotResult& is = worse.slots[i];
    EXPECT_FALSE(is.state == SlotState::empty && good.slots[i].numbers) << is.id << ": a blank called an empty slot";
    if (!is.numbers || !good.slots[i].numbers) {
      EXPECT_FALSE(is.numbers && good.slots[i].state == SlotState::empty) << is.id << ": a number for an empty slot";
      continue;
    }
    const SlotNumbers& a = *good.slots[i].numbers;
    const SlotNumbers& b = *is.numbers;
    // each holds the truth to 95 %: both together to hypot of them, here with the margin of 20 comparisons, all of them
    // to 95 % (normal quantile of 0.05 / 40 over that of 0.025)
    EXPECT_LE(std::abs(a.across_mm - b.across_mm), 1.54 * std::hypot(a.uncertainty.across_mm, b.uncertainty.across_mm))
        << is.id;
    ++compared;
  }
  if (GetParam() >= 0.5) {
    EXPECT_GE(compared, 3) << "half the light still measures";
  }
}

INSTANTIATE_TEST_SUITE_P(Gains, Spoiling, testing::Values(0.5, 0.25, 0.12, 0.06));

}  // namespace
}  // namespace jigtrue::test
