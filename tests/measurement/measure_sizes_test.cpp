// Sizes that a fixture file leaves to the photo, against those that the blanks were drawn with.
#include "jigtrue/measurement/measure_sizes.hpp"

#include "jigtrue/fixture/fixture_json.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <cmath>
#include <fstream>

#include "drawn/random_load.hpp"
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

Photo size_photo(const test::DrawnBed& bed, std::uint32_t seed) {
  const test::TemporaryFolder folder;
  std::ofstream(folder / "photo.jpg", std::ios::binary) << encode_jpeg(test::draw(bed, seed), 92);
  return read_photo(folder / "photo.jpg");
}

// The load's file with these sizes left to the photo.
std::string file_without(const test::RandomLoad& load, const std::vector<std::string>& fields) {
  const nlohmann::ordered_json whole = fixture_json(load.fixture);
  nlohmann::ordered_json file;
  file["schema"] = whole.at("schema");
  file["blank"] = whole.at("slots")[0].at("blank");
  file["blank"].erase("diameter_tolerance_mm");
  file["blank"].erase("length_tolerance_mm");
  for (const std::string& field : fields) file["blank"][field] = "measure";
  file["seat"] = whole.at("slots")[0].at("seat");
  return file.dump();
}

struct Left {
  test::LoadKind kind;
  std::uint32_t seed;
  std::vector<std::string> fields;
};

class MeasuredLoad : public testing::TestWithParam<Left> {};

TEST_P(MeasuredLoad, TellsTheSizesItsBlanksWereDrawnWith) {
  const auto& [kind, seed, fields] = GetParam();
  const test::RandomLoad load = test::random_load(kind, 5, 5.0, seed);
  const Photo photo = size_photo(load.bed, seed);
  EdgeModelStore models;
  const MeasuredSizes measured =
      measure_sizes({{photo, load.stated, 0.0}}, file_without(load, fields), "like.json", {}, models);
  ASSERT_EQ(measured.sizes.size(), fields.size());
  for (const MeasuredSize& size : measured.sizes) {
    const bool length = size.field == "length_mm" || size.field == "width_mm";
    double mean = 0.0;
    for (const test::DrawnSlot& slot : load.bed.slots)
      mean += (length ? length_mm(*slot.blank) : largest_girth_mm(*slot.blank)) /
              static_cast<double>(load.bed.slots.size());
    EXPECT_NEAR(size.mm, mean, 1.5 * size.u_mm) << size.field;  // beyond 1.5 half-widths lie 3 of 1,000
    // Of five lengths drawn up to 1 mm longer or shorter the mean alone is known to 0.51, and the ends of each add to
    // it.
    EXPECT_LT(size.u_mm, length ? 0.8 : 0.5) << size.field;
    EXPECT_GE(size.blanks, 4);
  }
  // what is written is a file, with numbers
  const LikeFile like = read_like(measured.json_text, "like.json");
  EXPECT_TRUE(like.to_measure.empty());
  EXPECT_NEAR(largest_girth_mm(like.kind.blank.shape), largest_girth_mm(*load.bed.slots[0].blank), 0.6);
}

INSTANTIATE_TEST_SUITE_P(Kinds, MeasuredLoad,
                         testing::Values(Left{test::LoadKind::round_in_vees, 31, {"diameter_mm"}},
                                         Left{test::LoadKind::round_on_floors, 41, {"diameter_mm", "length_mm"}},
                                         Left{test::LoadKind::round_in_vees, 34, {"length_mm"}},
                                         Left{test::LoadKind::plates, 33, {"width_mm", "height_mm"}}));

// A further load's blanks tell the sizes that the first one's told; what its user measured stays.
TEST(MeasuredAgain, CountsTheBlanksOfAllLoads) {
  const test::RandomLoad load = test::random_load(test::LoadKind::round_in_vees, 5, 5.0, 34);
  const Photo first = size_photo(load.bed, 34);
  const Photo second = size_photo(load.bed, 35);  // grain and noise of its own
  EdgeModelStore models;
  const MeasuredSizes once =
      measure_sizes({{first, load.stated, 0.0}}, file_without(load, {"length_mm"}), "like.json", {}, models);
  ASSERT_EQ(once.sizes.size(), 1U);
  // a load by itself leaves numbers alone
  EXPECT_TRUE(measure_sizes({{first, load.stated, 0.0}}, once.json_text, "like.json", {}, models).sizes.empty());
  const MeasuredSizes again =
      measure_sizes({{first, load.stated, 0.0}, {second, load.stated, 0.0}}, once.json_text, "like.json", {}, models);
  ASSERT_EQ(again.sizes.size(), 1U);
  EXPECT_EQ(again.sizes[0].field, "length_mm");
  EXPECT_GT(again.sizes[0].blanks, once.sizes[0].blanks);
  EXPECT_NEAR(again.sizes[0].mm, once.sizes[0].mm, once.sizes[0].u_mm);
  EXPECT_EQ(read_like(again.json_text, "like.json").kind.blank.length_tolerance_mm, again.sizes[0].tolerance_mm);
}

TEST(SizeSentence, SaysWhatATenthOfAMillimetreWouldDo) {
  const test::RandomLoad load = test::random_load(test::LoadKind::round_on_floors, 3, 4.5, 41);
  const MeasuredSize size{"diameter_mm", 11.03, 0.12, 0.04, 10.98, 11.07, 5, 0.15, 0.05};
  ScoutedSlot slot;
  slot.slot = load.fixture.slots.front();
  const std::string text = size_sentence(size, load.stated, {slot});
  EXPECT_THAT(text, testing::HasSubstr("diameter 11.03 mm (+/- 0.12), by 5 blanks that measure 10.98 to 11.07 mm"));
  EXPECT_THAT(text, testing::HasSubstr("lift the axis by 0.05 mm"));
  // by similar triangles: the axis comes nearer to the camera and its sight line meets it nearer to the camera's foot
  const Vector3d camera = load.stated.centre_mm();
  const double axis = rad_from_deg(slot.slot.axis_deg);
  const double away = (slot.slot.centre_mm - camera.head<2>()).dot(turned_left(unit_vector(axis)));
  const double height = resting_axis(slot.slot.blank.shape, slot.slot.seat).height_at_start_mm;
  const double moved = 0.05 * std::abs(away) / (camera.z() - height);
  char expected[40];
  std::snprintf(expected, sizeof expected, "up to %.3f mm (slot ", moved);
  EXPECT_THAT(text, testing::HasSubstr(expected));
}

}  // namespace
}  // namespace jigtrue
