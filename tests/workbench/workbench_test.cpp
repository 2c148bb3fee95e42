// A bench that has seen other photos before answers as a fresh one does, and writes nothing by itself.
#include "jigtrue/workbench/workbench.hpp"

#include "jigtrue/base/read_file.hpp"

#include <filesystem>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

std::filesystem::path project() { return JIGTRUE_SOURCE_DIR; }

BenchSetup demo_setup() {
  const auto read = [](const char* file) { return read_text_file(project() / file); };
  return {read_camera_json(read("calib/sample/camera.json"), "camera.json"),
          read_fixture(read("fixtures/demo/pens/fixture.json"), "fixture.json")};
}

CheckedLoad check(Workbench& bench, const char* photo) {
  const FileBytes bytes = read_file_bytes(project() / "fixtures/demo/pens" / photo, std::size_t{1} << 30);
  return bench.check(EncodedPhoto{photo, bytes.span()}, "2024-05-01T12:00:00Z");
}

std::vector<std::string> bytes_of(const CheckedLoad& load) {
  std::vector<std::string> all;
  for (const FileContent& file : load.files) all.push_back(file.bytes);
  all.push_back(record_line(load.record));
  return all;
}

TEST(Workbench, AnswersAlikeWhateverPhotosCameBefore) {
  Workbench fresh(demo_setup());
  const CheckedLoad first = check(fresh, "photo.jpg");
  ASSERT_EQ(first.files.size(), 5U);
  EXPECT_EQ(first.files[0].path, "report.json");
  EXPECT_TRUE(first.result.needs_person()) << "one slot is empty";
  Workbench used(demo_setup());
  (void)check(used, "photo-2.jpg");
  EXPECT_EQ(bytes_of(check(used, "photo.jpg")), bytes_of(first));
}

TEST(Workbench, RefusesAMovedCameraByACodeAndShowsIt) {
  BenchSetup setup = demo_setup();
  ASSERT_FALSE(std::get<CameraRecord>(setup.camera).witness.empty());
  setup.place.draw_move = true;
  Workbench bench(setup);
  try {
    (void)check(bench, "photo-3.jpg");
    FAIL() << "somebody leaned on the camera's arm";
  } catch (const CameraMoved& moved) {
    EXPECT_EQ(moved.failure().code, FailureCode::camera_moved);
    EXPECT_EQ(moved.picture().substr(0, 2), "\xFF\xD8");
  }
  setup.place.repose = true;
  Workbench reposing(setup);
  const CheckedLoad load = check(reposing, "photo-3.jpg");
  EXPECT_EQ(load.move_picture.substr(0, 2), "\xFF\xD8");
  EXPECT_NE(load.result.notes.front().find("placed anew"), std::string::npos);
}

TEST(Workbench, AppliesNoFiguresThatTheCamerasFileLacks) {
  BenchSetup setup = demo_setup();
  setup.apply_figures = true;
  EXPECT_THROW(Workbench{setup}, InputError);
}

}  // namespace
}  // namespace jigtrue
