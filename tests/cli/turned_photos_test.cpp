// A camera that looks straight down writes its orientation tag by chance, and programs turn pictures: the lens does not
// turn with them.
#include "cli/demo_run.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"

#include <fstream>

#include <gtest/gtest.h>
#include <opencv2/core.hpp>

namespace jigtrue::test {
namespace {

// The same JPEG with an orientation tag (EXIF 2.3, section 4.6): an APP1 segment behind the start of the picture.
std::string tagged_jpeg(const std::string& file, int orientation) {
  const std::string jpeg = read_text_file(file);
  std::string block("Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0", 25);
  block += static_cast<char>(orientation);
  block += std::string(6, '\0');
  const std::size_t length = block.size() + 2;
  std::string segment = "\xFF\xE1";
  segment += static_cast<char>(length >> 8U);
  segment += static_cast<char>(length & 0xFFU);
  return jpeg.substr(0, 2) + segment + block + jpeg.substr(2);
}

void write_bytes(const std::filesystem::path& file, const std::string& bytes) {
  std::ofstream(file, std::ios::binary) << bytes;
}

// Its pixels turned and its tag lost, as some programs do.
void write_turned_picture(const std::filesystem::path& file, const std::string& photo, int rotation) {
  const Photo read = read_photo(photo);
  cv::Mat3b turned_picture;
  cv::rotate(shrink(read, std::max(read.width_px(), read.height_px())).bgr, turned_picture, rotation);
  write_bytes(file, encode_png(turned_picture));
}

std::string lens_photo(int i) {
  return (demo() / "cameras/attic/lens" / ((i < 10 ? "0" : "") + std::to_string(i) + ".jpg")).string();
}

CommandResult lens_of(const std::vector<std::string>& photos, const std::string& output) {
  std::vector<std::string> arguments = {"lens", "--board", "10x7x20", "-o", output};
  arguments.insert(arguments.end(), photos.begin(), photos.end());
  return command(arguments);
}

TEST(TurnedPhotos, LensPassesOverTagsThatMostPhotosDoNotHave) {
  const TemporaryFolder folder;
  std::vector<std::string> photos;
  for (int i = 0; i < 14; ++i) {
    photos.push_back(lens_photo(i));
    const int tag = i == 2 ? 3 : i == 5 ? 6 : i == 7 ? 8 : 0;
    if (tag == 0) continue;
    photos.back() = (folder / ("tagged-" + std::to_string(tag) + ".jpg")).string();
    write_bytes(photos.back(), tagged_jpeg(lens_photo(i), tag));
  }
  const auto run = lens_of(photos, (folder / "lens.json").string());
  ASSERT_EQ(run.status, 0) << run.err;
  for (const char* name :
       {"tagged-3.jpg was turned by half a turn", "tagged-6.jpg was turned by a quarter turn counter",
        "tagged-8.jpg was turned by a quarter turn clockwise"})
    EXPECT_NE(run.out.find(name), std::string::npos) << name << "\n" << run.out;
  const auto lens = json_of(folder / "lens.json");
  const auto plain = json_of(calibration().lens());
  EXPECT_EQ(lens["corners_used"], plain["corners_used"]);
  // corners found in a turned picture differ by rounding; the lens moves by far less than it is known to
  for (const char* name : {"fx", "fy", "cx", "cy"})
    EXPECT_NEAR(lens["parameters"][name].get<double>(), plain["parameters"][name].get<double>(), 0.2) << name;
}

TEST(TurnedPhotos, LensTurnsPicturesThatFitItNoOtherWay) {
  const TemporaryFolder folder;
  std::vector<std::string> photos;
  photos.reserve(14);
  for (int i = 0; i < 14; ++i) photos.push_back(lens_photo(i));
  photos[3] = (folder / "on-its-side.png").string();
  write_turned_picture(photos[3], lens_photo(3), cv::ROTATE_90_CLOCKWISE);
  const auto run = lens_of(photos, (folder / "lens.json").string());
  ASSERT_EQ(run.status, 0) << run.err;
  EXPECT_NE(run.out.find("on-its-side.png was turned by a quarter turn counter-clockwise"), std::string::npos)
      << run.out;
  EXPECT_TRUE(json_of(folder / "lens.json")["photos"][3]["used"].get<bool>());
}

TEST(TurnedPhotos, PoseAndCheckTakeATagByChanceAndSaySo) {
  const TemporaryFolder folder;
  for (const int tag : {3, 6}) {
    const std::string flat = (folder / "flat.jpg").string();
    write_bytes(flat, tagged_jpeg(DemoCalibration::pose_photo(), tag));
    const std::string camera = (folder / "camera.json").string();
    const auto pose = command({"pose", flat, "--lens", calibration().lens(), "--board", "10x7x20", "--board-at",
                               "78,302,-88", "--board-height", "3", "--witness", "12,12", "-o", camera});
    ASSERT_EQ(pose.status, 0) << pose.err;
    EXPECT_NE(pose.out.find("flat.jpg was turned by"), std::string::npos) << pose.out;
    const auto now = json_of(camera)["camera_from_bed"]["translation_mm"];
    const auto then = json_of(calibration().camera())["camera_from_bed"]["translation_mm"];
    for (std::size_t i = 0; i < 3; ++i) EXPECT_NEAR(now[i].get<double>(), then[i].get<double>(), 1e-6);

    const std::string load = (folder / "load.jpg").string();
    write_bytes(load, tagged_jpeg(DemoCalibration::photo(), tag));
    const auto check = command({"check", load, "--camera", calibration().camera(), "--fixture",
                                DemoCalibration::fixture(), "-o", (folder / "out").string()});
    EXPECT_EQ(check.status, 1) << check.err;  // a slot is empty
    const auto report = json_of(folder / "out/report.json");
    EXPECT_NE(report["notes"].dump().find("The photo was turned by"), std::string::npos) << report["notes"];
    EXPECT_EQ(report["slots"][0]["state"], "found");
  }
}

// No tag is left to tell: the marks stuck to the bed do.
TEST(TurnedPhotos, CheckTurnsAPictureAsTheBedsMarksLie) {
  const TemporaryFolder folder;
  for (const int rotation : {cv::ROTATE_180, cv::ROTATE_90_CLOCKWISE}) {
    const std::string load = (folder / "load.png").string();
    write_turned_picture(load, DemoCalibration::photo(), rotation);
    const auto check = command({"check", load, "--camera", calibration().camera(), "--fixture",
                                DemoCalibration::fixture(), "-o", (folder / "out").string()});
    EXPECT_EQ(check.status, 1) << check.err;
    EXPECT_NE(json_of(folder / "out/report.json")["notes"].dump().find("so the bed's marks are where"),
              std::string::npos);
  }
}

}  // namespace
}  // namespace jigtrue::test
