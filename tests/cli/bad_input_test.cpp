// Bad input: one clear line, exit status 2, nothing changed.
#include "cli/demo_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "support/temporary_folder.hpp"

#include <fstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>
#include <opencv2/core.hpp>

namespace jigtrue::test {
namespace {

void write(const std::filesystem::path& file, const std::string& text) {
  std::ofstream(file, std::ios::binary) << text;
}

class BadInput : public testing::Test {
 protected:
  void SetUp() override {
    // what stood in the folder before must be there afterwards, byte for byte
    std::filesystem::create_directory(out());
    write(out() / "report.json", kBefore);
  }

  [[nodiscard]] std::filesystem::path out() const { return folder / "out"; }

  void refused(const CommandResult& run, const std::string& says) const {
    EXPECT_EQ(run.status, 2);
    EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
    EXPECT_NE(run.err.find(says), std::string::npos) << "\"" << says << "\" is not in: " << run.err;
    EXPECT_EQ(read_text_file(out() / "report.json"), kBefore);
    EXPECT_EQ(std::distance(std::filesystem::directory_iterator(out()), std::filesystem::directory_iterator()), 1);
  }

  [[nodiscard]] CommandResult check(const std::string& photo, const std::string& camera,
                                    const std::string& fixture) const {
    return command({"check", photo, "--camera", camera, "--fixture", fixture, "-o", out().string()});
  }
  [[nodiscard]] CommandResult check_photo(const std::string& photo) const {
    return check(photo, calibration().camera(), DemoCalibration::fixture());
  }
  // The demo's fixture with one thing changed.
  template <class Change>
  [[nodiscard]] CommandResult check_fixture(Change change) const {
    auto json = nlohmann::json::parse(read_text_file(DemoCalibration::fixture()));
    json.erase("machine");  // it lies beside the demo's own file
    change(json);
    write(folder / "fixture.json", json.dump());
    return check(DemoCalibration::photo(), calibration().camera(), (folder / "fixture.json").string());
  }
  template <class Change>
  [[nodiscard]] CommandResult check_camera(Change change) const {
    auto json = nlohmann::json::parse(read_text_file(calibration().camera()));
    change(json);
    write(folder / "camera.json", json.dump());
    return check(DemoCalibration::photo(), (folder / "camera.json").string(), DemoCalibration::fixture());
  }

  TemporaryFolder folder;
  static constexpr const char* kBefore = "what stood here before";
};

TEST_F(BadInput, PhotoMissing) { refused(check_photo((folder / "none.jpg").string()), "none.jpg"); }

TEST_F(BadInput, PhotoIsAFolder) { refused(check_photo(folder.path().string()), "folder"); }

TEST_F(BadInput, PhotoEmpty) {
  write(folder / "empty.jpg", "");
  refused(check_photo((folder / "empty.jpg").string()), "empty.jpg");
}

TEST_F(BadInput, PhotoIsNoPicture) {
  write(folder / "text.jpg", "not a picture at all");
  refused(check_photo((folder / "text.jpg").string()), "text.jpg");
}

// A photo that shows no mark on the bed need not be of a moved camera.
TEST_F(BadInput, PhotoTooDarkIsNoMovedCamera) {
  const Photo photo = read_photo(DemoCalibration::photo());
  const cv::Mat3b whole = shrink(photo, std::max(photo.width_px(), photo.height_px())).bgr;
  write(folder / "dark.jpg", encode_jpeg(cv::Mat3b(whole * 0.02)));
  refused(check_photo((folder / "dark.jpg").string()), "too dark");
}

TEST_F(BadInput, PhotoTruncated) {
  const std::string whole = read_text_file(DemoCalibration::photo());
  write(folder / "half.jpg", whole.substr(0, whole.size() / 2));
  refused(check_photo((folder / "half.jpg").string()), "half.jpg");
}

TEST_F(BadInput, PhotoOfAnotherSize) {
  auto run = check_camera([](nlohmann::json& json) {
    json["image_size_px"] = {1600, 900};
    json["lens"]["image_size_px"] = {1600, 900};
  });
  refused(run, "1600 x 900");
}

TEST_F(BadInput, FixtureMalformed) {
  write(folder / "bad.json", "{ \"schema\": \"jigtrue.fixture/1\", ");
  refused(check(DemoCalibration::photo(), calibration().camera(), (folder / "bad.json").string()), "bad.json");
}

TEST_F(BadInput, FixtureIsAPhoto) {
  refused(check(DemoCalibration::photo(), calibration().camera(), DemoCalibration::photo()),
          "is a picture, not a fixture");
}

TEST_F(BadInput, FixtureOfAnotherSchema) {
  refused(check_fixture([](nlohmann::json& json) { json["schema"] = "jigtrue.lens/1"; }), "schema");
}

TEST_F(BadInput, FixtureWithUnknownUnit) {
  refused(check_fixture([](nlohmann::json& json) { json["slots"][0]["centre_inch"] = {1, 2}; }), "centre_inch");
}

TEST_F(BadInput, FixtureWithNegativeNumber) {
  refused(check_fixture([](nlohmann::json& json) { json["design"]["height_mm"] = -4; }), "height_mm");
}

TEST_F(BadInput, FixtureWithAbsurdNumber) {
  refused(check_fixture([](nlohmann::json& json) { json["slots"][1]["centre_mm"][0] = 1e30; }), "slots[1]");
}

TEST_F(BadInput, FixtureWithDuplicateId) {
  refused(check_fixture([](nlohmann::json& json) { json["slots"][1]["id"] = "1"; }), "id");
}

TEST_F(BadInput, FixtureWithMissingId) {
  refused(check_fixture([](nlohmann::json& json) { json["slots"][1].erase("id"); }), "id");
}

TEST_F(BadInput, FixtureWithoutSlots) {
  refused(check_fixture([](nlohmann::json& json) { json["slots"] = nlohmann::json::array(); }), "slots");
}

TEST_F(BadInput, CameraWithNonFiniteNumber) {
  refused(check_camera([](nlohmann::json& json) { json["camera_from_bed"]["translation_mm"][2] = nullptr; }),
          "camera.json");
}

TEST_F(BadInput, CameraWithABentRotation) {
  refused(check_camera([](nlohmann::json& json) { json["camera_from_bed"]["rotation"][0][0] = 2.0; }), "rotation");
}

TEST_F(BadInput, CameraMissing) {
  refused(check(DemoCalibration::photo(), (folder / "none.json").string(), DemoCalibration::fixture()), "none.json");
}

TEST_F(BadInput, OutputFolderIsAFile) {
  write(folder / "file", "a file");
  const auto run = command({"check", DemoCalibration::photo(), "--camera", calibration().camera(), "--fixture",
                            DemoCalibration::fixture(), "-o", (folder / "file").string()});
  refused(run, "file");
  EXPECT_EQ(read_text_file(folder / "file"), "a file");
}

TEST_F(BadInput, OutputFolderBelowAFileCannotBeMade) {
  write(folder / "file", "a file");
  refused(command({"check", DemoCalibration::photo(), "--camera", calibration().camera(), "--fixture",
                   DemoCalibration::fixture(), "-o", (folder / "file" / "out").string()}),
          "file: is a file");
}

TEST_F(BadInput, NoBoardInThePosePhoto) {
  const auto run = command({"pose", DemoCalibration::photo(), "--lens", calibration().lens(), "--board", "10x7x20",
                            "--board-at", "78,302,-88", "--board-height", "3", "-o", (folder / "c.json").string()});
  refused(run, "photo.jpg");
  EXPECT_FALSE(std::filesystem::exists(folder / "c.json"));
}

TEST_F(BadInput, BoardAtIsNotThreeNumbers) {
  refused(command({"pose", DemoCalibration::pose_photo(), "--lens", calibration().lens(), "--board", "10x7x20",
                   "--board-at", "78,302", "-o", (folder / "c.json").string()}),
          "--board-at");
}

TEST_F(BadInput, BoardThatTheLenssPhotosDidNotShow) {
  refused(command({"pose", DemoCalibration::pose_photo(), "--lens", calibration().lens(), "--board", "10x8x20",
                   "--board-at", "78,302,0", "--board-height", "3", "-o", (folder / "c.json").string()}),
          "10x8x20");
}

// The remedy names what to do: the count that is there is in the reason.
TEST_F(BadInput, BoardCountedWrongly) {
  for (const auto& [board, says] : {std::pair<std::string, std::string>{"9x6x20", "were corners counted instead"},
                                    {"11x8x20", "found a board of 10x7 squares, not 11x8"},
                                    {"10x9x20", "found a board of 10x7 squares, not 10x9"},
                                    {"8x7x20", "found a board of 10x7 squares, not 8x7"}}) {
    const auto run =
        command({"pose", DemoCalibration::pose_photo(), "--lens", calibration().lens(), "--board", board, "--board-at",
                 "78,302,-88", "--board-height", "3", "--another-board", "-o", (folder / "c.json").string()});
    refused(run, says);
    refused(run,
            says.find("only") == std::string::npos ? "count squares, not corners" : "count its squares, not corners");
    EXPECT_FALSE(std::filesystem::exists(folder / "c.json")) << board;
  }
  std::vector<std::string> lens = {"lens", "--board", "9x6x20", "-o", (folder / "l.json").string()};
  for (int i = 0; i < 4; ++i)
    lens.push_back((demo() / "cameras/attic/lens" / ("0" + std::to_string(i) + ".jpg")).string());
  refused(command(lens), "every photo: found a board of 10x7 squares, not 9x6");
}

// A board's count the other way round is the same board.
TEST_F(BadInput, BoardWithItsSidesSwappedIsTaken) {
  const auto run = command({"pose", DemoCalibration::pose_photo(), "--lens", calibration().lens(), "--board", "7x10x20",
                            "--board-at", "78,302,-88", "--board-height", "3", "-o", (folder / "c.json").string()});
  EXPECT_EQ(run.status, 0) << run.err;
}

TEST_F(BadInput, MirroredPosePhoto) {
  const Photo photo = read_photo(DemoCalibration::pose_photo());
  cv::Mat3b mirrored;
  cv::flip(shrink(photo, photo.width_px()).bgr, mirrored, 1);
  write(folder / "mirror.png", encode_png(mirrored));
  refused(command({"pose", (folder / "mirror.png").string(), "--lens", calibration().lens(), "--board", "10x7x20",
                   "--board-at", "78,302,-88", "--board-height", "3", "-o", (folder / "c.json").string()}),
          "mirrored");
  EXPECT_FALSE(std::filesystem::exists(folder / "c.json"));
}

TEST_F(BadInput, RefitWithWhatItKeepsAlready) {
  const std::string output = (folder / "l.json").string();
  refused(command({"lens", "--refit", calibration().lens(), "--board", "10x7x20", "-o", output}), "--refit");
  refused(command({"lens", DemoCalibration::photo(), "--refit", calibration().lens(), "-o", output}), "--refit");
  refused(command({"lens", "--refit", DemoCalibration::fixture(), "-o", output}), "fixture.json");
  refused(command({"lens", "--refit", (folder / "none.json").string(), "-o", output}), "none.json");
  refused(command({"lens", "-o", output}), "no photos are given");
  refused(command({"lens", DemoCalibration::photo(), "-o", output}), "--board");
  refused(command({"pose", DemoCalibration::pose_photo(), "--refit", calibration().camera(), "-o", output}), "--refit");
  refused(command({"pose", "--refit", calibration().lens(), "-o", output}), "lens.json");
  refused(command({"pose", "--refit", calibration().camera(), "--board-height", "3", "-o", output}), "--refit");
  refused(command({"pose", "-o", output}), "no photo is given");
  refused(command({"pose", DemoCalibration::pose_photo(), "-o", output}), "--lens");
}

TEST_F(BadInput, LensFromPhotosWithoutABoard) {
  const auto run = command({"lens", DemoCalibration::photo(), DemoCalibration::photo(), DemoCalibration::photo(),
                            "--board", "10x7x20", "-o", (folder / "l.json").string()});
  refused(run, "photo");
  EXPECT_FALSE(std::filesystem::exists(folder / "l.json"));
}

TEST_F(BadInput, UnknownOption) { refused(command({"check", "--colour"}), "jigtrue"); }

TEST_F(BadInput, WhereOutsideThePicture) {
  refused(command({"where", "-400,20", "--camera", calibration().camera()}), "-400,20");
}

}  // namespace
}  // namespace jigtrue::test
