// The pose from several flat photos, drawn through the demo's own camera.
#include "cli/demo_run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "support/temporary_folder.hpp"

#include <cmath>
#include <fstream>
#include <map>

#include "image/rendered_checkers.hpp"
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

constexpr double kHeight_mm = 3.0;
const std::vector<Vector2d> kWitness = {{12, 12}, {288, 12}, {12, 388}, {288, 388}};

// Grey at a place of the bed: a board of 10 x 7 squares of 20 mm, and marks in the bed's corners.
Pattern bed_with_board(double x_mm, double y_mm, double angle_deg) {
  const Pattern board = board_pattern(10, 7, 20.0, 8.0);
  const Pattern mark = mark_pattern(8.0, 3.0);
  const Eigen::Rotation2Dd back(-rad_from_deg(angle_deg));
  return [=](const Vector2d& p) {
    for (const Vector2d& at : kWitness)
      if ((p - at).cwiseAbs().maxCoeff() < 11.0) return mark(p - at);
    return board(back * (p - Vector2d(x_mm, y_mm)));
  };
}

const std::vector<Vector2d> kBurned = {{30, 40}, {260, 30}, {150, 90}, {60, 200}, {210, 180}, {270, 340}, {40, 350}};

// A sheet with burned marks instead.
Pattern bed_with_burned_marks() {
  const Pattern mark = mark_pattern(8.0, 3.0);
  return [=](const Vector2d& p) {
    for (const Vector2d& at : kBurned)
      if ((p - at).cwiseAbs().maxCoeff() < 11.0) return mark(p - at);
    return mark({30.0, 30.0});
  };
}

// Rays through the pixels' corners; zero where the lens shows nothing. Every camera here has the demo's lens: they are
// found once.
const std::vector<Vector3d>& corner_rays(const Lens& lens) {
  static const Lens known = lens;
  static const std::vector<Vector3d> rays = [&] {
    std::vector<Vector3d> found;
    for (int y = 0; y <= lens.height_px; ++y)
      for (int x = 0; x <= lens.width_px; ++x)
        found.push_back(unproject(lens, {x - 0.5, y - 0.5}).value_or(Vector3d::Zero()));
    return found;
  }();
  EXPECT_EQ(lens.parameters, known.parameters);
  return rays;
}

// What the camera sees of a plane at that height, tilted about the bed's X by some degrees through (0, 200).
cv::Mat1b draw(const Camera& camera, const Pattern& pattern, double tilt_deg = 0.0) {
  const Matrix3d tilt = rotation_from_vector({rad_from_deg(tilt_deg), 0, 0});
  const Vector3d through(0, 200, kHeight_mm);
  const Rigid bed_from_camera = camera.camera_from_bed.inverse();
  const int columns = camera.lens.width_px + 1;
  const int rows = camera.lens.height_px + 1;
  // places seen at the pixels' corners; inside a pixel they run evenly
  std::vector<Vector2d> place(static_cast<std::size_t>(columns) * static_cast<std::size_t>(rows));
  const auto index = [&](int x, int y) {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(columns) + static_cast<std::size_t>(x);
  };
  const std::vector<Vector3d>& rays = corner_rays(camera.lens);
  const Vector3d from = tilt.transpose() * (bed_from_camera.translation - through);
  const Matrix3d plane_from_camera = tilt.transpose() * bed_from_camera.rotation;
  for (std::size_t i = 0; i < place.size(); ++i) {
    const Vector3d along = plane_from_camera * rays[i];
    place[i] = rays[i].isZero() ? Vector2d(-1e4, -1e4)
                                : Vector2d((from - along * (from.z() / along.z())).head<2>() + through.head<2>());
  }
  cv::Mat1f picture(rows - 1, columns - 1);
  for (int y = 0; y + 1 < rows; ++y)
    for (int x = 0; x + 1 < columns; ++x) {
      const Vector2d& a = place[index(x, y)];
      const Vector2d right = place[index(x + 1, y)] - a;
      const Vector2d down = place[index(x, y + 1)] - a;
      const double corner = pattern(a);
      const bool even =
          corner == pattern(a + right) && corner == pattern(a + down) && corner == pattern(a + right + down);
      double value = corner;
      if (!even) {
        constexpr int kSteps = 8;
        value = 0.0;
        for (int i = 0; i < kSteps; ++i)
          for (int j = 0; j < kSteps; ++j)
            value += pattern(a + right * ((i + 0.5) / kSteps) + down * ((j + 0.5) / kSteps)) / (kSteps * kSteps);
      }
      picture(y, x) = static_cast<float>(value);
    }
  cv::GaussianBlur(picture, picture, cv::Size(0, 0), 0.8, 0.8, cv::BORDER_REPLICATE);
  // as much in every photo: without any, the axes' directions would decide which one is the surest
  constexpr double kNoise = 3.0;  // grey levels
  cv::Mat1f noise(picture.size());
  cv::RNG(11).fill(noise, cv::RNG::NORMAL, 0.0, kNoise);
  picture += noise;
  cv::Mat1b photo;
  picture.convertTo(photo, CV_8U);
  return photo;
}

class FlatPhotos : public testing::Test {
 protected:
  void SetUp() override {
    camera_ = read_camera_json(read_text_file(calibration().camera()), "camera.json").camera;
    draw_photo("first.png", camera_, 40, 60, 0);
    draw_photo("second.png", camera_, 250, 150, 88);
    draw_photo("third.png", camera_, 45, 225, 4);
  }
  void draw_photo(const std::string& name, const Camera& camera, double x_mm, double y_mm, double angle_deg,
                  double tilt_deg = 0.0) const {
    // most tests want the same photos
    static std::map<std::vector<double>, std::string> drawn;
    std::vector<double> what = {x_mm, y_mm, angle_deg, tilt_deg};
    for (const auto& column : camera.camera_from_bed.rotation.colwise())
      what.insert(what.end(), column.begin(), column.end());
    what.insert(what.end(), camera.camera_from_bed.translation.begin(), camera.camera_from_bed.translation.end());
    std::string& png = drawn[what];
    if (png.empty()) {
      cv::Mat3b photo;
      cv::cvtColor(draw(camera, bed_with_board(x_mm, y_mm, angle_deg), tilt_deg), photo, cv::COLOR_GRAY2BGR);
      png = encode_png(photo);
    }
    std::ofstream(file(name), std::ios::binary) << png;
  }
  [[nodiscard]] std::string file(const std::string& name) const { return (folder_ / name).string(); }
  [[nodiscard]] CommandResult pose(const std::vector<std::string>& photos, const std::string& output,
                                   const std::vector<std::string>& more = {}) const {
    std::vector<std::string> arguments = {"pose"};
    for (const std::string& photo : photos) arguments.push_back(file(photo));
    arguments.insert(arguments.end(), {"--lens", calibration().lens(), "--board", "10x7x20", "--board-at", "40,60,0",
                                       "--board-height", "3", "-o", file(output)});
    arguments.insert(arguments.end(), more.begin(), more.end());
    return command(arguments);
  }
  void refused(const CommandResult& run, const std::string& says) const {
    EXPECT_EQ(run.status, 2) << run.out;
    EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
    EXPECT_NE(run.err.find(says), std::string::npos) << run.err;
    EXPECT_FALSE(std::filesystem::exists(folder_ / "camera.json"));
  }
  [[nodiscard]] static nlohmann::json where(const std::string& camera) {
    const auto run = command({"where", "1300,150", "300,1050", "--camera", camera, "--json"});
    EXPECT_EQ(run.status, 0) << run.err;
    return nlohmann::json::parse(run.out);
  }
  [[nodiscard]] nlohmann::json json_of(const std::string& name) const {
    return nlohmann::json::parse(read_text_file(folder_ / name));
  }
  Camera camera_;
  TemporaryFolder folder_;
};

TEST_F(FlatPhotos, MakeThePlaneSurerAndAreKept) {
  const auto one = pose({"first.png"}, "one.json");
  ASSERT_EQ(one.status, 0) << one.err;
  const auto three =
      pose({"first.png", "second.png", "third.png"}, "three.json", {"--witness", "12,12", "--witness", "288,388"});
  ASSERT_EQ(three.status, 0) << three.err;
  EXPECT_NE(three.out.find("from the first alone they would be"), std::string::npos) << three.out;
  const std::string page = read_text_file(folder_ / "three.html");
  EXPECT_NE(page.find("Further photos"), std::string::npos);
  // how far the compared lenses miss left-out photos: in lens at the boards' distance, here on the bed
  EXPECT_NE(calibration().lens_run.out.find("the pose command says it on the bed"), std::string::npos);
  EXPECT_NE(three.out.find(" mm on this bed ("), std::string::npos) << three.out;
  EXPECT_NE(page.find("Lens, photos not seen"), std::string::npos);
  const auto further = json_of("three.json")["inputs"]["further"];
  ASSERT_EQ(further.size(), 2u);
  EXPECT_EQ(further[1]["photo"], file("third.png"));
  EXPECT_EQ(further[0]["points"].size(), 54u);
  // the first's place is exact; 0.02 px at every corner leave some hundredths of a millimetre at the others
  EXPECT_NEAR(further[0]["found_at"]["x_mm"].get<double>(), 250.0, 0.05);
  EXPECT_NEAR(further[0]["found_at"]["y_mm"].get<double>(), 150.0, 0.05);
  EXPECT_NEAR(further[0]["found_at"]["angle_deg"].get<double>(), 88.0, 0.05);
  EXPECT_NEAR(further[1]["found_at"]["y_mm"].get<double>(), 225.0, 0.05);

  const auto by_one = where(file("one.json"));
  const auto by_three = where(file("three.json"));
  for (std::size_t i = 0; i < 2; ++i)
    EXPECT_LT(by_three[i]["u_mm"].get<double>(), by_one[i]["u_mm"].get<double>()) << i;

  const auto again = command({"pose", "--refit", file("three.json"), "-o", file("again.json")});
  ASSERT_EQ(again.status, 0) << again.err;
  EXPECT_EQ(json_of("again.json")["inputs"]["further"].size(), 2u);
  EXPECT_EQ(json_of("again.json")["witness"].size(), 2u);
  const auto by_again = where(file("again.json"));
  for (std::size_t i = 0; i < 2; ++i) {
    // corners are kept to 0.0001 px
    EXPECT_NEAR(by_again[i]["bed_mm"][0].get<double>(), by_three[i]["bed_mm"][0].get<double>(), 1e-4);
    EXPECT_NEAR(by_again[i]["u_mm"].get<double>(), by_three[i]["u_mm"].get<double>(), 1e-3);
  }
}

TEST_F(FlatPhotos, ThatContradictAreNamedWithTheRemedy) {
  draw_photo("propped.png", camera_, 45, 225, 4, 1.0);
  const auto propped = pose({"first.png", "second.png", "propped.png"}, "camera.json");
  refused(propped, "propped.png: its board does not lie in the plane of that in");
  refused(propped, "lay the same board flat on the bed and take all photos without touching the camera");
  refused(pose({"first.png", "first.png"}, "camera.json"), "its board lies where that in");
  refused(pose({"first.png", "none.png"}, "camera.json"), "none.png");
  // not flat but in hand: one of the lens's photos
  std::vector<std::string> arguments = {"pose",
                                        file("first.png"),
                                        (demo() / "cameras/attic/lens/03.jpg").string(),
                                        "--lens",
                                        calibration().lens(),
                                        "--board",
                                        "10x7x20",
                                        "--board-at",
                                        "40,60,0",
                                        "--board-height",
                                        "3",
                                        "-o",
                                        file("camera.json")};
  refused(command(arguments), "03.jpg: its board does not lie in the plane");
  arguments[2] = DemoCalibration::photo();
  refused(command(arguments), "photo.jpg");
}

// A shift along the bed shows in the witness marks only.
TEST_F(FlatPhotos, BetweenWhichTheCameraMovedAreToldByTheWitnessMarks) {
  Camera shifted = camera_;
  shifted.camera_from_bed = camera_.camera_from_bed * Rigid{Matrix3d::Identity(), Vector3d(1.5, 0, 0)};
  draw_photo("shifted.png", shifted, 250, 150, 88);
  const std::vector<std::string> witness = {"--witness", "12,12",  "--witness", "288,12",
                                            "--witness", "12,388", "--witness", "288,388"};
  refused(pose({"first.png", "shifted.png"}, "camera.json", witness), "shifted.png: the witness marks are not where");
  EXPECT_EQ(pose({"first.png", "second.png"}, "camera.json", witness).status, 0);
}

class BesideMarks : public FlatPhotos {
 protected:
  void SetUp() override {
    FlatPhotos::SetUp();
    cv::Mat3b photo;
    cv::cvtColor(draw(camera_, bed_with_burned_marks()), photo, cv::COLOR_GRAY2BGR);
    std::ofstream(file("marks.png"), std::ios::binary) << encode_png(photo);
    nlohmann::json marks = {{"schema", "jigtrue.marks/1"}};
    for (const Vector2d& at : kBurned) marks["marks_mm"].push_back({at.x(), at.y(), kHeight_mm});
    std::ofstream(file("marks.json")) << marks;
  }
  [[nodiscard]] CommandResult by_marks(const std::vector<std::string>& further, const std::string& output,
                                       const std::vector<std::string>& more = {}) const {
    std::vector<std::string> arguments = {"pose", file("marks.png")};
    for (const std::string& photo : further) arguments.push_back(file(photo));
    arguments.insert(arguments.end(),
                     {"--lens", calibration().lens(), "--marks", file("marks.json"), "-o", file(output)});
    arguments.insert(arguments.end(), more.begin(), more.end());
    return command(arguments);
  }
  const std::vector<std::string> board_ = {"--board", "10x7x20", "--board-height", "3"};
};

TEST_F(BesideMarks, BoardsMakeThePlaneSurerAndAreKept) {
  const auto alone = by_marks({}, "alone.json");
  ASSERT_EQ(alone.status, 0) << alone.err;
  const auto both = by_marks({"second.png", "third.png"}, "both.json", board_);
  ASSERT_EQ(both.status, 0) << both.err;
  EXPECT_NE(both.out.find("marks and boards fit"), std::string::npos) << both.out;
  EXPECT_NE(both.out.find("from the marks alone they would be"), std::string::npos) << both.out;
  EXPECT_NE(both.out.find("by the marks the board's squares measure"), std::string::npos) << both.out;
  EXPECT_NE(both.out.find("what the marks say about the machine"), std::string::npos) << both.out;
  EXPECT_NE(read_text_file(folder_ / "both.html").find("Further photos"), std::string::npos);
  const auto inputs = json_of("both.json")["inputs"];
  EXPECT_EQ(inputs["points"].size(), kBurned.size());
  ASSERT_EQ(inputs["further"].size(), 2u);
  EXPECT_EQ(inputs["further"][1]["photo"], file("third.png"));
  // marks and corners to 0.02 px each: some hundredths of a millimetre
  EXPECT_NEAR(inputs["further"][0]["found_at"]["x_mm"].get<double>(), 250.0, 0.06);
  EXPECT_NEAR(inputs["further"][0]["found_at"]["y_mm"].get<double>(), 150.0, 0.06);
  EXPECT_NEAR(inputs["further"][0]["found_at"]["angle_deg"].get<double>(), 88.0, 0.05);
  const auto before = where(file("alone.json"));
  const auto after = where(file("both.json"));
  for (std::size_t i = 0; i < 2; ++i) {
    const double u_mm = after[i]["u_mm"].get<double>();
    EXPECT_LT(u_mm, before[i]["u_mm"].get<double>()) << i;
    const Vector2d px(after[i]["px"][0].get<double>(), after[i]["px"][1].get<double>());
    const Vector2d at(after[i]["bed_mm"][0].get<double>(), after[i]["bed_mm"][1].get<double>());
    EXPECT_LT((at - bed_point_at(camera_, px, 0.0)->mm).norm(), u_mm) << i;
  }
}

// From the file alone, with boards and without: the same places, as sure as before, and the machine's figures.
TEST_F(BesideMarks, CanBeFittedAgainFromTheCameraFile) {
  ASSERT_EQ(by_marks({}, "alone.json").status, 0);
  ASSERT_EQ(by_marks({"second.png", "third.png"}, "both.json", board_).status, 0);
  for (const std::string name : {"alone.json", "both.json"}) {
    const auto run = command({"pose", "--refit", file(name), "-o", file("again.json")});
    ASSERT_EQ(run.status, 0) << run.err;
    EXPECT_EQ(json_of("again.json")["inputs"]["mark_sigma_px"].size(), kBurned.size());
    EXPECT_EQ(json_of("again.json")["inputs"].contains("further"), name == "both.json");
    EXPECT_EQ(json_of("again.json")["inputs"]["marks"], file("marks.json"));
    EXPECT_EQ(json_of("again.json").contains("machine"), json_of(name).contains("machine"));
    const auto before = where(file(name));
    const auto after = where(file("again.json"));
    for (std::size_t i = 0; i < 2; ++i) {
      // marks and corners are kept to 0.0001 px
      EXPECT_NEAR(after[i]["bed_mm"][0].get<double>(), before[i]["bed_mm"][0].get<double>(), 3e-4) << name;
      EXPECT_NEAR(after[i]["bed_mm"][1].get<double>(), before[i]["bed_mm"][1].get<double>(), 3e-4) << name;
      EXPECT_NEAR(after[i]["u_mm"].get<double>(), before[i]["u_mm"].get<double>(), 1e-3) << name;
    }
  }
  auto older = json_of("alone.json");
  older["inputs"].erase("mark_sigma_px");
  std::ofstream(file("older.json")) << older;
  refused(command({"pose", "--refit", file("older.json"), "-o", file("camera.json")}),
          "this file was made before marks were kept");
  older["inputs"]["mark_sigma_px"] = {0.1, 0.1};
  std::ofstream(file("older.json")) << older;
  refused(command({"pose", "--refit", file("older.json"), "-o", file("camera.json")}), "one number for each");
}

TEST_F(BesideMarks, WhatIsNoBoardOrGivenForNothingIsRefused) {
  refused(by_marks({"second.png"}, "camera.json"), "second.png: photos after that of the marks must show the checker");
  refused(by_marks({"marks.png"}, "camera.json", board_), "marks.png: ");
  std::vector<std::string> placed = board_;
  placed.insert(placed.end(), {"--board-at", "250,150,88"});
  refused(by_marks({"second.png"}, "camera.json", placed), "--board-at: the marks say where the bed lies");
  refused(by_marks({}, "camera.json", board_), "--marks: it cannot be combined with --board");
  refused(by_marks({"second.png"}, "camera.json", {"--board", "10x7x21", "--board-height", "3", "--another-board"}),
          "squares measure 20.");
  draw_photo("propped.png", camera_, 45, 225, 4, 1.0);
  refused(by_marks({"second.png", "propped.png"}, "camera.json", board_), "propped.png: its board does not lie in");
  refused(by_marks({"propped.png"}, "camera.json", board_), "propped.png: its board is tilted by");
}

}  // namespace
}  // namespace jigtrue::test
