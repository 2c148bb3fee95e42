// Drawn loads beside drawn photos of the same jig without blanks, put back elsewhere.
#include "jigtrue/measurement/empty_view.hpp"

#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/measurement/judge_by_empty.hpp"
#include "support/temporary_folder.hpp"

#include <array>
#include <fstream>
#include <utility>

#include "drawn/random_load.hpp"
#include <gtest/gtest.h>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

Photo as_photo(const cv::Mat3b& drawn) {
  const test::TemporaryFolder folder;
  std::ofstream(folder / "photo.jpg", std::ios::binary) << encode_jpeg(drawn, 92);
  return read_photo(folder / "photo.jpg");
}

constexpr double kDrawnPxPerMm = 5.0;

struct Pair {
  test::RandomLoad load;
  cv::Mat3b drawn_load;
  cv::Mat3b drawn_empty;

  // The second slot of the load is empty, too. `moved_mm`: of the jig in the empty photo against the load's.
  Pair(test::LoadKind kind, std::uint32_t seed, const Vector2d& moved_mm)
      : load(test::random_load(kind, 4, kDrawnPxPerMm, seed)) {
    load.bed.jig.grain = 0.0;  // it is drawn where the bed is, and would not move with the jig
    load.bed.slots[1].blank.reset();
    drawn_load = test::draw(load.bed, seed);
    test::DrawnBed empty = load.bed;
    empty.exposure *= 1.08;
    for (test::DrawnSlot& slot : empty.slots) {
      slot.seat_centre_mm += moved_mm;
      slot.blank.reset();
    }
    drawn_empty = test::draw(empty, seed + 1);
  }
  [[nodiscard]] std::vector<BlankPlace> places() const {
    std::vector<BlankPlace> list;
    for (const Slot& slot : load.fixture.slots) list.push_back(nominal_place(slot));
    return list;
  }
  [[nodiscard]] Outcome<EmptyView> view(const cv::Mat3b& seen) const {
    return register_empty(as_photo(seen), as_photo(drawn_empty), load.stated, load.fixture, places());
  }
  [[nodiscard]] PhotoFindings check(const Photo& empty) const {
    CheckOptions options;
    options.empty = &empty;
    return check_photo(as_photo(drawn_load), load.stated, load.fixture, options);
  }
};

TEST(EmptyView, FindsTheJigWhereItWasPutBack) {
  const std::array<std::pair<test::LoadKind, Vector2d>, 3> cases{{{test::LoadKind::round_in_vees, {0.2, -0.35}},
                                                                  {test::LoadKind::plates, {0.2, -0.35}},
                                                                  {test::LoadKind::round_in_vees, {0.0, 0.0}}}};
  for (const auto& [kind, moved_mm] : cases) {
    const Pair pair(kind, 311, moved_mm);
    const auto view = pair.view(pair.drawn_load);
    ASSERT_TRUE(view) << view.reason();
    // across the slots; along them vees without ends show nothing
    constexpr double kThreeSigma = 3.0;
    EXPECT_NEAR(view->motion.shift_mm.y(), -moved_mm.y(), kThreeSigma * view->place_sigma_px / kDrawnPxPerMm);
    EXPECT_NEAR(view->motion.turn_deg, 0.0, 0.05);
  }
}

TEST(EmptyView, ASlotThatLooksAsItDidIsEmptyAndNoOtherIs) {
  for (const std::uint32_t seed : {311U, 312U, 313U}) {
    const Pair pair(test::LoadKind::round_on_floors, seed, {0.2, -0.3});
    const auto view = pair.view(pair.drawn_load);
    ASSERT_TRUE(view) << view.reason();
    const auto places = pair.places();
    for (std::size_t i = 0; i < places.size(); ++i)
      EXPECT_EQ(change_of_slot(view->changes, pair.load.stated, pair.load.fixture.slots[i], places[i]).as_it_was(),
                i == 1)
          << seed << " slot " << i;
  }
}

TEST(EmptyView, WhatLiesAcrossTheJigCoversItsSlots) {
  const Pair pair(test::LoadKind::round_on_floors, 311, {0.1, 0.1});
  cv::Mat3b seen = pair.drawn_load.clone();
  // a strap of a colour of its own across the first two slots
  const auto px = [&](double x, double y) {
    const Vector2d at = *project_bed_point(pair.load.stated, {x, y, 10.0});
    return cv::Point(static_cast<int>(at.x()), static_cast<int>(at.y()));
  };
  const double y = pair.load.fixture.slots[1].centre_mm.y();
  cv::line(seen, px(200, y), px(200, 0), cv::Scalar(60, 70, 200), 80);
  const auto view = pair.view(seen);
  ASSERT_TRUE(view) << view.reason();
  const auto places = pair.places();
  for (std::size_t i = 0; i < places.size(); ++i)
    EXPECT_EQ(change_of_slot(view->changes, pair.load.stated, pair.load.fixture.slots[i], places[i]).covered(), i < 2)
        << i;
}

TEST(EmptyView, AnotherJigsPhotoIsNotUsed) {
  const Pair pair(test::LoadKind::round_in_vees, 311, {0.2, 0.1});
  const Pair other(test::LoadKind::plates, 317, {0.2, 0.1});
  cv::Mat3b resized;
  cv::resize(other.drawn_empty, resized, pair.drawn_load.size());
  const PhotoFindings result = pair.check(as_photo(resized));
  ASSERT_FALSE(result.notes.empty());
  EXPECT_NE(result.notes.front().find("was not used"), std::string::npos) << result.notes.front();
}

TEST(EmptyView, APhotoThatStillShowsBlanksIsNotUsed) {
  const Pair pair(test::LoadKind::round_in_vees, 311, {0.2, 0.1});
  const PhotoFindings result = pair.check(as_photo(pair.drawn_load));
  ASSERT_FALSE(result.notes.empty());
  EXPECT_NE(result.notes.front().find("it shows a blank in slot"), std::string::npos) << result.notes.front();
  const PhotoFindings without = check_photo(as_photo(pair.drawn_load), pair.load.stated, pair.load.fixture, {});
  for (std::size_t i = 0; i < 4; ++i) EXPECT_EQ(result.slots[i].state, without.slots[i].state) << i;
}

TEST(EmptyView, APhotoOfAnotherSizeIsNotUsed) {
  const Pair pair(test::LoadKind::round_in_vees, 311, {0.2, 0.1});
  const PhotoFindings result = pair.check(as_photo(pair.drawn_load(cv::Rect(0, 0, 400, 300))));
  ASSERT_FALSE(result.notes.empty());
  EXPECT_NE(result.notes.front().find("400 x 300 px"), std::string::npos) << result.notes.front();
}

}  // namespace
}  // namespace jigtrue
