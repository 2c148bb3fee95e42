// A jig's slots, found from a photo of it loaded, against where its blanks were drawn.
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/measurement/reading_order.hpp"
#include "jigtrue/measurement/scout_photo.hpp"
#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <cmath>
#include <fstream>

#include "drawn/random_load.hpp"
#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using testing::HasSubstr;

// As beside HardLoads: beyond 1.5 half-widths lie 3 of 1,000.
constexpr double kScoutedWithin = 1.5;

Photo photo_of(const cv::Mat3b& picture) {
  const test::TemporaryFolder folder;
  std::ofstream(folder / "photo.jpg", std::ios::binary) << encode_jpeg(picture, 92);
  return read_photo(folder / "photo.jpg");
}
Photo photo_of(const test::DrawnBed& bed, std::uint32_t seed) { return photo_of(test::draw(bed, seed)); }

LikeFile like_of(const test::RandomLoad& load) {
  LikeFile like;
  like.fixture = load.fixture;
  like.fixture.slots.clear();
  like.kind = load.fixture.slots.front();
  like.kind.centre_mm = Vector2d::Zero();
  like.kind.axis_deg = 0.0;
  return like;
}

ScoutResult scouted(const test::RandomLoad& load, const LikeFile& like, std::uint32_t seed) {
  EdgeModelStore models;
  return scout_photo(photo_of(load.bed, seed), load.stated, like, {}, models);
}

class ScoutedLoad : public testing::TestWithParam<std::pair<test::LoadKind, std::uint32_t>> {};

TEST_P(ScoutedLoad, HasASlotForEveryBlankFromFrontToBack) {
  const auto [kind, seed] = GetParam();
  const test::RandomLoad load = test::random_load(kind, 5, 5.0, seed);
  const ScoutResult result = scouted(load, like_of(load), seed);
  ASSERT_EQ(result.slots.size(), load.bed.slots.size());
  std::vector<test::DrawnSlot> drawn = load.bed.slots;
  std::sort(drawn.begin(), drawn.end(), [](const auto& a, const auto& b) { return a.centre_mm.y() < b.centre_mm.y(); });
  for (std::size_t i = 0; i < drawn.size(); ++i) {
    ASSERT_TRUE(result.slots[i].blank);
    const ScoutedPlace& blank = *result.slots[i].blank;
    const ExpandedUncertainty& u = blank.measured.numbers->uncertainty;
    EXPECT_EQ(result.slots[i].slot.id, std::to_string(i + 1));
    const Vector2d off = blank.slot.centre_mm - drawn[i].centre_mm;
    EXPECT_LE(std::abs(off.y()), kScoutedWithin * u.across_mm + 0.01);  // lying along X to within some degrees
    EXPECT_LE(std::abs(off.x()), kScoutedWithin * u.along_mm.value());
    EXPECT_LE(std::abs(std::remainder(blank.slot.axis_deg - deg_from_rad(drawn[i].heading_rad), 180.0)),
              kScoutedWithin * u.rotation_deg);
  }
}

INSTANTIATE_TEST_SUITE_P(Kinds, ScoutedLoad,
                         testing::Values(std::pair(test::LoadKind::round_in_vees, 31U),
                                         std::pair(test::LoadKind::turned_on_floors, 32U),
                                         std::pair(test::LoadKind::plates, 33U)));

class RefusedScout : public testing::Test {
 protected:
  test::RandomLoad load = test::random_load(test::LoadKind::round_on_floors, 3, 4.5, 41);
  LikeFile like = like_of(load);
  std::string refusal() { return refusal_of(test::draw(load.bed, 41)); }
  std::string refusal_of(const cv::Mat3b& picture) {
    const Photo photo = photo_of(picture);
    EdgeModelStore models;
    return test::input_error_text([&] { (void)scout_photo(photo, load.stated, like, {}, models); });
  }
};

TEST_F(RefusedScout, WithoutBlanks) {
  for (test::DrawnSlot& slot : load.bed.slots) slot.blank.reset();
  EXPECT_THAT(refusal(), HasSubstr("no blank is seen"));
}

TEST_F(RefusedScout, WithBlanksOfAnotherSize) {
  auto& round = std::get<RoundBlank>(like.kind.blank.shape);
  round.diameter_mm += 2.5;
  EXPECT_THAT(refusal(), HasSubstr("of another size"));
}

TEST_F(RefusedScout, WithBlanksOfAnotherLength) {
  auto& round = std::get<RoundBlank>(like.kind.blank.shape);
  round.length_mm += 12.0;
  EXPECT_THAT(refusal(), testing::AnyOf(HasSubstr("length measures"), HasSubstr("none shows both its ends")));
}

TEST_F(RefusedScout, WithAPhotoOfAnotherCamera) {
  load.stated.lens.width_px += 40;
  EXPECT_THAT(refusal(), HasSubstr("px"));
}

// Two drawn apart, the one laid over the other's photo: the lower one's sides are broken where the upper one lies.
class CrossingRods : public RefusedScout, public testing::WithParamInterface<double> {};

TEST_P(CrossingRods, AreToldAsSuch) {
  test::DrawnSlot upper = load.bed.slots[1];
  upper.heading_rad += rad_from_deg(GetParam());
  upper.seat_heading_rad = upper.heading_rad;
  upper.centre_mm += Vector2d(4.0, 2.0);
  upper.seat_centre_mm = upper.centre_mm;
  test::DrawnBed above = load.bed;
  above.slots = {upper};
  test::DrawnBed bare = above;
  bare.slots[0].blank.reset();
  cv::Mat3b photo = test::draw(load.bed, 41);
  const cv::Mat3b with = test::draw(above, 41);
  const cv::Mat3b without = test::draw(bare, 41);
  constexpr int kBlanksOwn = 12;  // grey levels
  for (int y = 0; y < photo.rows; ++y)
    for (int x = 0; x < photo.cols; ++x)
      if (cv::norm(cv::Vec3i(with(y, x)) - cv::Vec3i(without(y, x))) > kBlanksOwn) photo(y, x) = with(y, x);
  EXPECT_THAT(refusal_of(photo), HasSubstr("one over the other"));
}

INSTANTIATE_TEST_SUITE_P(Angles, CrossingRods, testing::Values(25.0, 40.0, 90.0));

// A second load of the same jig, its blanks half a millimetre further back: a slot lies where both say together.
TEST(ScoutedTwice, SlotsLieWhereTheLoadsSayTogether) {
  const test::RandomLoad load = test::random_load(test::LoadKind::round_in_vees, 3, 4.5, 31);
  test::DrawnBed later = load.bed;
  const Vector2d moved_mm(0.0, 0.5);
  for (test::DrawnSlot& slot : later.slots) {
    slot.centre_mm += moved_mm;
    slot.seat_centre_mm += moved_mm;
  }
  const Photo first = photo_of(load.bed, 31);
  const Photo second = photo_of(later, 31);
  EdgeModelStore models;
  const LikeFile like = like_of(load);
  const ScoutResult once = scout_photo(first, load.stated, like, {}, models);
  const ScoutResult twice = scout_photos({{first, load.stated, 0.0}, {second, load.stated, 0.0}}, like, {}, models);
  ASSERT_EQ(once.slots.size(), 3U);
  ASSERT_EQ(twice.slots.size(), 3U);
  for (std::size_t i = 0; i < 3; ++i) {
    ASSERT_TRUE(twice.slots[i].blank);
    EXPECT_EQ(twice.slots[i].blank->loads, 2);
    const Vector2d off = twice.slots[i].blank->slot.centre_mm - once.slots[i].blank->slot.centre_mm;
    EXPECT_NEAR((off - 0.5 * moved_mm).norm(), 0.0, 0.05);  // the half-width across of one of them
  }
}

std::vector<Slot> slots_at(const std::vector<Vector2d>& centres, double axis_deg) {
  std::vector<Slot> slots(centres.size());
  for (std::size_t i = 0; i < centres.size(); ++i) {
    slots[i].centre_mm = centres[i];
    slots[i].axis_deg = axis_deg;
    slots[i].blank.shape = PlateBlank{60.0, 30.0, 3.0, 0.0};
  }
  return slots;
}

TEST(ReadingOrder, GoesFromFrontToBackAndInARowFromLeftToRight) {
  EXPECT_THAT(reading_order(slots_at({{200, 60}, {100, 62}, {100, 20}, {200, 18}}, 0.3)),
              testing::ElementsAre(2, 3, 1, 0));
  // a jig that stands askew: its rows do
  EXPECT_THAT(reading_order(slots_at({{300, 60}, {200, 35}, {100, 10}, {290, 100}, {190, 75}, {90, 50}}, 14.0)),
              testing::ElementsAre(2, 1, 0, 5, 4, 3));
  // standing side by side
  EXPECT_THAT(reading_order(slots_at({{130, 100}, {90, 105}, {50, 98}}, 90.0)), testing::ElementsAre(2, 1, 0));
}

// Another jig's file: its slots lie across these.
TEST(CheckedByAnotherJigsFile, IsToldWhatScoutingSays) {
  const test::RandomLoad load = test::random_load(test::LoadKind::round_in_vees, 5, 5.0, 31);
  Fixture other = load.fixture;
  for (Slot& slot : other.slots) slot.axis_deg += 90.0;
  const PhotoFindings result = check_photo(photo_of(load.bed, 31), load.stated, other, {});
  ASSERT_FALSE(result.notes.empty());
  EXPECT_THAT(result.notes.back(), HasSubstr("5 such blanks lie elsewhere"));
  EXPECT_THAT(result.notes.back(), HasSubstr("jigtrue scout"));
}

}  // namespace
}  // namespace jigtrue
