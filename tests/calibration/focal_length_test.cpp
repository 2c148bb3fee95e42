// Photos that were taken through another of a camera's lenses, or zoomed, as their own data say.
#include "jigtrue/calibration/focal_length.hpp"

#include "jigtrue/base/read_file.hpp"
#include "support/input_error_text.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

using testing::HasSubstr;

LensPhoto photo_at(const std::string& file, std::optional<double> focal_mm) {
  LensPhoto photo;
  photo.file = file;
  photo.corners = BoardCorners{};
  photo.focal_mm = focal_mm;
  return photo;
}

TEST(FocalLength, IsWhatMostOfTheLensesPhotosSay) {
  std::vector<LensPhoto> photos = {photo_at("a.jpg", 5.1), photo_at("b.jpg", 2.2), photo_at("c.jpg", {}),
                                   photo_at("d.jpg", 5.12)};
  photos.push_back(photo_at("none.jpg", 9.0));
  photos.back().corners = Failure{"no board"};
  const LensFocalLength found = focal_length_of(photos);
  EXPECT_EQ(found.focal_mm, 5.1);
  ASSERT_EQ(found.notes.size(), 1U);
  EXPECT_THAT(found.notes[0], HasSubstr("b.jpg says it was taken at 2.2 mm, the others at 5.1 mm"));
  EXPECT_EQ(focal_length_of({photo_at("c.jpg", {})}).focal_mm, std::nullopt);
}

TEST(FocalLength, IsKeptByTheLensFileAndHeldAgainstPhotos) {
  nlohmann::json json = nlohmann::json::parse(read_text_file(JIGTRUE_SOURCE_DIR "/calib/sample/lens.json"));
  EXPECT_EQ(read_lens_json(json.dump(), "lens.json").focal_mm, std::nullopt) << "a file that says nothing of it";
  json["focal_mm"] = 5.1;
  const LensRecord lens = read_lens_json(json.dump(), "lens.json");
  EXPECT_EQ(lens.focal_mm, 5.1);
  Photo photo;
  EXPECT_FALSE(other_focal_length(photo, lens)) << "nor a photo";
  photo.focal_mm = 5.13;
  EXPECT_FALSE(other_focal_length(photo, lens)) << "rounded otherwise";
  photo.focal_mm = 5.2;
  EXPECT_THAT(other_focal_length(photo, lens)->text, HasSubstr("taken at 5.2 mm, zoom included, the lens's at 5.1 mm"));
  json["focal_mm"] = -1;
  EXPECT_THAT(input_error_text([&] { (void)read_lens_json(json.dump(), "lens.json"); }), HasSubstr("focal_mm"));
}

}  // namespace
}  // namespace jigtrue::test
