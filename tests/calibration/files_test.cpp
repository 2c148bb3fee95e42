#include "jigtrue/calibration/camera_file.hpp"
#include "support/input_error_text.hpp"

#include <cmath>
#include <random>
#include <string>

#include "calibration/synthetic.hpp"
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using nlohmann::json;

struct Made {
  LensFit fit;
  std::string lens_text;
  std::string camera_text;
};

// One calibration for all tests here: 8 photos, the first of which shows no board; then a pose with two witness marks.
const Made& made() {
  static const Made result = [] {
    const Lens lens = synthetic::barrel_lens();
    auto photos = synthetic::make_scene(lens, 8, 0.05, 41).photos;
    photos[0].corners = Failure{"no board found"};
    LensFitOptions options;
    options.model = LensModel::radial5;
    Made m{fit_lens(photos, options), "", ""};
    m.lens_text = lens_json(m.fit, options, {synthetic::kBoard, "2031-05-06T07:08:09Z", "jigtrue 0.0"});
    const LensRecord record = read_lens_json(m.lens_text, "lens.json");
    Matrix3d down;
    down << 1, 0, 0, 0, -1, 0, 0, 0, -1;
    Camera camera{lens, {down, -(down * Vector3d(180, 200, 480))}, {}};
    BoardPlacement at;
    at.x_mm = 90;
    at.y_mm = 130;
    BoardCorners corners;
    corners.board = synthetic::kBoard;
    std::mt19937 random(42);
    std::normal_distribution<double> normal(0.0, 0.05);
    for (int j = 0; j < 54; ++j) {
      corners.px.push_back(*project_bed_point(camera, bed_from_board(at) * synthetic::kBoard.corner_mm(j % 9, j / 9)) +
                           Vector2d(normal(random), normal(random)));
      corners.sigma_px.push_back(0.05);
    }
    const auto pose = fit_pose_to_board(record, corners, 1600, 1200, at);
    CameraFileNotes notes;
    notes.photo = "pose.jpg";
    notes.lens_file = "lens.json";
    notes.board = synthetic::kBoard;
    notes.placement = at;
    notes.created = "2031-05-06T08:00:00Z";
    notes.software = "jigtrue 0.0";
    m.camera_text =
        camera_json(*pose, record, {{{12, 12}, {200.5, 900.25}, 0.04}, {{300, 12}, {1200, 910}, 0.05}}, notes);
    return m;
  }();
  return result;
}

TEST(LensFile, SaysWhatTheContractAsks) {
  const json file = json::parse(made().lens_text);
  EXPECT_EQ(file["schema"], "jigtrue.lens/1");
  EXPECT_EQ(file["image_size_px"], json({1600, 1200}));
  EXPECT_EQ(file["model"], "radial5");
  EXPECT_NEAR(file["rms_px"].get<double>(), 0.07, 0.01);
  ASSERT_EQ(file["photos"].size(), 8u);
  EXPECT_EQ(file["photos"][0]["file"], "photo0.jpg");
  EXPECT_EQ(file["photos"][0]["used"], false);
  EXPECT_EQ(file["photos"][0]["reason"], "no board found");
  for (std::size_t i = 1; i < 8; ++i) {
    EXPECT_EQ(file["photos"][i]["used"], true);
    EXPECT_FALSE(file["photos"][i].contains("reason"));
    EXPECT_GT(file["photos"][i]["rms_px"].get<double>(), 0.03);
    EXPECT_EQ(file["photos"][i]["corners_px"].size(), 54u);
  }
  EXPECT_EQ(file["created"], "2031-05-06T07:08:09Z");
}

TEST(LensFile, NumbersComeBackAsTheSameDoubles) {
  const LensRecord record = read_lens_json(made().lens_text, "lens.json");
  EXPECT_EQ(record.lens.parameters, made().fit.lens.parameters);
  EXPECT_EQ(record.lens.max_theta_rad, made().fit.lens.max_theta_rad);
  EXPECT_EQ(record.covariance, MatrixXd(0.5 * (made().fit.covariance + made().fit.covariance.transpose())));
  EXPECT_EQ(record.rms_px, made().fit.rms_px);
  EXPECT_EQ(record.model_error_px, made().fit.model_error_px);
  EXPECT_EQ(record.noise_px, made().fit.noise_px);
  EXPECT_EQ(record.together_px, made().fit.together_px);
}

// The file keeps what it was made from: fitted once more, the lens is the same but for corners rounded to 1e-4 px, some
// 6e-4 of their noise of 0.05 px; parameters then move by no more than a hundredth of their sigma.
TEST(LensFile, CanBeFittedAgainFromItself) {
  for (const std::string& text : {made().lens_text, made().camera_text}) {
    const LensInputs inputs = read_lens_inputs(text, "kept.json");
    ASSERT_EQ(inputs.photos.size(), 8u);
    EXPECT_FALSE(inputs.photos[0].corners.ok());
    EXPECT_EQ(inputs.photos[0].corners.reason(), "no board found");
    EXPECT_EQ(inputs.photos[3].file, "photo3.jpg");
    EXPECT_EQ(inputs.board.columns, 10);
    EXPECT_EQ(inputs.options.model, LensModel::radial5);
    const LensFit again = fit_lens(inputs.photos, inputs.options);
    for (Eigen::Index i = 0; i < 9; ++i)
      EXPECT_NEAR(again.lens.parameters[i], made().fit.lens.parameters[i],
                  0.01 * std::sqrt(made().fit.covariance(i, i)))
          << i;
    EXPECT_EQ(again.corner_count, made().fit.corner_count);
  }
}

TEST(CameraFile, CanBeFittedAgainFromItself) {
  const CameraRecord before = read_camera_json(made().camera_text, "camera.json");
  const CameraInputs inputs = read_camera_inputs(made().camera_text, "camera.json");
  ASSERT_EQ(inputs.photos.size(), 1u);
  EXPECT_EQ(inputs.photos.front().file, "pose.jpg");
  EXPECT_EQ(inputs.placement.x_mm, 90);
  const auto again = fit_pose_to_boards(before.lens, inputs.photos, inputs.placement);
  ASSERT_TRUE(again) << again.reason();
  for (Eigen::Index i = 0; i < 3; ++i)
    EXPECT_NEAR(again->camera.camera_from_bed.translation[i], before.camera.camera_from_bed.translation[i],
                0.01 * std::sqrt(before.camera.covariance(12 + i, 12 + i)));
  EXPECT_LT((again->camera.covariance - before.camera.covariance).norm(), 1e-3 * before.camera.covariance.norm());
}

// With further photos: each one's corners are kept, and the same camera comes of them.
TEST(CameraFile, OfSeveralPhotosCanBeFittedAgainFromItself) {
  const CameraRecord single = read_camera_json(made().camera_text, "camera.json");
  CameraInputs inputs = read_camera_inputs(made().camera_text, "camera.json");
  FlatBoardPhoto further = inputs.photos.front();
  further.file = "further.jpg";
  for (std::size_t j = 0; j < 54; ++j) {
    const BoardPlacement there{200.0, 300.0, 45.0, 0.0, 0.0, 0.0, 0.0, 0.0};
    const int corner = static_cast<int>(j);
    further.corners.px[j] =
        *project_bed_point(single.camera, bed_from_board(there) * synthetic::kBoard.corner_mm(corner % 9, corner / 9));
  }
  inputs.photos.push_back(further);
  const auto pose = fit_pose_to_boards(single.lens, inputs.photos, inputs.placement);
  ASSERT_TRUE(pose) << pose.reason();
  CameraFileNotes notes;
  notes.photo = "pose.jpg";
  notes.board = synthetic::kBoard;
  notes.placement = inputs.placement;
  const std::string text = camera_json(*pose, single.lens, {}, notes);
  EXPECT_NEAR(json::parse(text)["inputs"]["further"][0]["found_at"]["x_mm"].get<double>(), 200.0, 0.2);
  const CameraInputs again = read_camera_inputs(text, "camera.json");
  ASSERT_EQ(again.photos.size(), 2u);
  EXPECT_EQ(again.photos[0].file, "pose.jpg");
  EXPECT_EQ(again.photos[1].file, "further.jpg");
  const auto refitted = fit_pose_to_boards(single.lens, again.photos, again.placement);
  ASSERT_TRUE(refitted) << refitted.reason();
  EXPECT_LT((refitted->camera.centre_mm() - pose->camera.centre_mm()).norm(), 1e-3);
  EXPECT_LT((refitted->camera.covariance - pose->camera.covariance).norm(), 1e-3 * pose->camera.covariance.norm());

  json broken = json::parse(text);
  broken["inputs"]["further"][0]["points"].erase(0);
  const std::string message =
      test::input_error_text([&] { (void)read_camera_inputs(broken.dump(), "bench/camera.json"); });
  EXPECT_NE(message.find("further[0].points"), std::string::npos) << message;
}

// A sheet that is not flat: the file keeps its shape for the pose.
TEST(LensFile, KeepsTheSheetsShape) {
  const Lens lens = synthetic::barrel_lens();
  LensFitOptions options;
  options.model = LensModel::radial5;
  options.fit_board_shape = true;
  const LensFit fit = fit_lens(synthetic::make_scene(lens, 8, 0.05, 43).photos, options);
  const std::string text = lens_json(fit, options, {synthetic::kBoard, "", ""});
  const LensRecord record = read_lens_json(text, "lens.json");
  ASSERT_TRUE(record.board_shape);
  EXPECT_EQ(record.board.columns, synthetic::kBoard.columns);
  EXPECT_EQ(record.board_shape->stretch, fit.board_shape->stretch);
  EXPECT_EQ(record.board_shape->bow_y_mm, fit.board_shape->bow_y_mm);
  EXPECT_LT((record.board_shape->sigma - fit.board_shape->sigma).norm(), 1e-12);
  EXPECT_EQ(record.board_shape->with_lens, fit.board_shape->with_lens);
  EXPECT_FALSE(read_lens_json(made().lens_text, "lens.json").board_shape);
  json broken = json::parse(text);
  broken["board_shape"]["bow_x_mm"] = 1e6;
  EXPECT_NE(test::input_error_text([&] { (void)read_lens_json(broken.dump(), "lens.json"); }).find("100 mm"),
            std::string::npos);
}

TEST(CameraFile, OfMarksHasNoBoardToFitAgain) {
  json file = json::parse(made().camera_text);
  file["inputs"].erase("board");
  file["inputs"].erase("board_at");
  const std::string message =
      test::input_error_text([&] { (void)read_camera_inputs(file.dump(), "bench/camera.json"); });
  EXPECT_EQ(message.rfind("bench/camera.json: inputs: must hold a board", 0), 0u) << message;
}

// Files of before corners were known to err together stay good: every corner then errs for itself.
TEST(LensFile, OlderFilesAreRead) {
  json file = json::parse(made().lens_text);
  for (const char* later : {"together_px", "independent_corners", "disagreement"}) file.erase(later);
  EXPECT_EQ(read_lens_json(file.dump(), "lens.json").together_px, 0.0);
}

TEST(CameraFile, ComesBackWhole) {
  const CameraRecord record = read_camera_json(made().camera_text, "camera.json");
  EXPECT_LT((record.camera.centre_mm() - Vector3d(180, 200, 480)).norm(), 1.0);
  EXPECT_EQ(record.camera.covariance.rows(), 15);
  EXPECT_EQ(record.camera.lens.parameters, made().fit.lens.parameters);
  ASSERT_EQ(record.witness.size(), 2u);
  EXPECT_EQ(record.witness[0].nominal_mm, Vector2d(12, 12));
  EXPECT_EQ(record.witness[0].px, Vector2d(200.5, 900.25));
  EXPECT_EQ(record.witness[1].sigma_px, 0.05);
  const json file = json::parse(made().camera_text);
  EXPECT_EQ(file["schema"], "jigtrue.camera/1");
  EXPECT_EQ(file["image_size_px"], json({1600, 1200}));
  EXPECT_EQ(file["lens"]["schema"], "jigtrue.lens/1");
  EXPECT_EQ(file["lens"]["photos"].size(), 8u);  // the whole lens
  EXPECT_EQ(file["bed_homography"][2][2], 1.0);
}

// An independent reading of the file: an undistorted normalised point through the homography is where the bed was.
TEST(CameraFile, HomographyLeadsToTheBed) {
  const CameraRecord record = read_camera_json(made().camera_text, "camera.json");
  const json h = json::parse(made().camera_text)["bed_homography"];
  const auto px = project_bed_point(record.camera, {150, 220, 0});
  const Vector3d ray = *unproject(record.camera.lens, *px);
  const double x = ray.x() / ray.z();
  const double y = ray.y() / ray.z();
  const auto row = [&](int i) { return h[i][0].get<double>() * x + h[i][1].get<double>() * y + h[i][2].get<double>(); };
  EXPECT_NEAR(row(0) / row(2), 150, 1e-8);
  EXPECT_NEAR(row(1) / row(2), 220, 1e-8);
}

struct Fault {
  const char* name;
  const char* pointer;  // JSON pointer
  const char* value;    // JSON text; "" removes
  const char* complaint;
};

class LensFaults : public testing::TestWithParam<Fault> {};
INSTANTIATE_TEST_SUITE_P(
    Fields, LensFaults,
    testing::Values(Fault{"schema", "/schema", "\"jigtrue.lens/2\"", "schema: \"jigtrue.lens/2\" is a version that"},
                    Fault{"no_schema", "/schema", "", "schema: missing"},
                    Fault{"size", "/image_size_px", "[1600]", "image_size_px: must hold width and height"},
                    Fault{"size_zero", "/image_size_px/0", "0", "image_size_px[0]: must lie between"},
                    Fault{"size_text", "/image_size_px/1", "\"1200\"", "image_size_px[1]: must be a whole number"},
                    Fault{"model", "/model", "\"thin-prism\"", "model: must be one of radial2"},
                    Fault{"other_model", "/model", "\"rational8\"", "parameters.k4: missing"},
                    Fault{"fewer_parameters", "/model", "\"equidistant4\"", "parameters.k4: missing"},
                    Fault{"focal", "/parameters/fx", "-3", "parameters.fx: must be greater than 0"},
                    Fault{"parameter_null", "/parameters/k2", "null", "parameters.k2: must be a number"},
                    Fault{"folding", "/parameters/k1", "-9", "the map folds"},
                    Fault{"parameter_huge", "/parameters/k1", "1e400", "number too large"},
                    Fault{"covariance_rows", "/covariance/8", "", "covariance: must hold 9 rows"},
                    Fault{"covariance_columns", "/covariance/2/8", "", "covariance[2]: must hold 9 numbers"},
                    Fault{"covariance_asymmetric", "/covariance/0/1", "0.7", "covariance: must be symmetric"},
                    Fault{"covariance_negative", "/covariance/3/3", "-1", "covariance: must not hold negative"},
                    Fault{"rms", "/rms_px", "-0.1", "rms_px: must not be negative"},
                    Fault{"together", "/together_px", "-1", "together_px: must not be negative"},
                    Fault{"photos", "/photos", "{}", "photos: must be a list"},
                    Fault{"used", "/photos/1/used", "1", "photos[1].used: must be true or false"}),
    [](const auto& test) { return std::string(test.param.name); });

std::string changed(const std::string& text, const Fault& fault) {
  json file = json::parse(text);
  const json::json_pointer at(fault.pointer);
  if (std::string(fault.value).empty()) {
    json& parent = file[at.parent_pointer()];
    if (parent.is_array()) {
      parent.erase(static_cast<std::size_t>(std::stoul(at.back())));
    } else {
      parent.erase(at.back());
    }
    return file.dump();
  }
  // put in as text, so that values which no JSON library would write can be tried too
  file[at] = "PLACE";
  std::string out = file.dump();
  const std::string mark = "\"PLACE\"";
  out.replace(out.find(mark), mark.size(), fault.value);
  return out;
}

TEST_P(LensFaults, AreNamed) {
  const std::string text = changed(made().lens_text, GetParam());
  const std::string message = test::input_error_text([&] { (void)read_lens_json(text, "bench/lens.json"); });
  EXPECT_EQ(message.rfind("bench/lens.json: ", 0), 0u) << message;
  EXPECT_NE(message.find(GetParam().complaint), std::string::npos) << message;
  EXPECT_NE(message.find("make it again"), std::string::npos) << message;
}

class CameraFaults : public testing::TestWithParam<Fault> {};
INSTANTIATE_TEST_SUITE_P(
    Fields, CameraFaults,
    testing::Values(
        Fault{"lens_gone", "/lens", "", "lens: missing"},
        Fault{"lens_schema", "/lens/schema", "\"x\"", "lens.schema: \"x\" is unknown"},
        Fault{"lens_inside", "/lens/parameters/fy", "0", "lens.parameters.fy: must be greater than 0"},
        Fault{"size", "/image_size_px", "[1200, 1600]", "image_size_px: must be the lens's own"},
        Fault{"rotation", "/camera_from_bed/rotation/0/0", "0.9", "rotation: must be a rotation"},
        Fault{"reflection", "/camera_from_bed/rotation", "[[1,0,0],[0,-1,0],[0,0,1]]", "not a reflection"},
        Fault{"translation", "/camera_from_bed/translation_mm", "[1, 2]", "translation_mm: must hold 3 numbers"},
        Fault{"below", "/camera_from_bed/translation_mm/2", "-480", "above the bed"},
        Fault{"covariance", "/covariance/14", "", "covariance: must hold 15 rows"},
        Fault{"homography", "/bed_homography/0/0", "1.0", "must agree with camera_from_bed"},
        Fault{"witness", "/witness/1/sigma_px", "0", "witness[1].sigma_px: must be greater than 0"},
        Fault{"witness_place", "/witness/0/nominal_mm", "[1]", "witness[0].nominal_mm: must hold 2 numbers"}),
    [](const auto& test) { return std::string(test.param.name); });

TEST_P(CameraFaults, AreNamed) {
  const std::string text = changed(made().camera_text, GetParam());
  const std::string message = test::input_error_text([&] { (void)read_camera_json(text, "bench/camera.json"); });
  EXPECT_EQ(message.rfind("bench/camera.json: ", 0), 0u) << message;
  EXPECT_NE(message.find(GetParam().complaint), std::string::npos) << message;
  EXPECT_NE(message.find("make it again"), std::string::npos) << message;
}

TEST(CameraFile, NamesAnotherFileInItsPlaceAndWhatToGive) {
  const std::string text = changed(made().camera_text, {"schema", "/schema", "\"jigtrue.lens/1\"", ""});
  const std::string message = test::input_error_text([&] { (void)read_camera_json(text, "bench/camera.json"); });
  EXPECT_EQ(message.rfind("bench/camera.json: schema: \"jigtrue.lens/1\" is not a camera file", 0), 0u) << message;
  EXPECT_NE(message.find("give a camera file"), std::string::npos) << message;
}

class KeptFaults : public testing::TestWithParam<Fault> {};
INSTANTIATE_TEST_SUITE_P(
    Fields, KeptFaults,
    testing::Values(Fault{"corner_gone", "/photos/2/corners_px/53", "", "corners_px: must hold 54 corners"},
                    Fault{"corner_text", "/photos/2/corners_px/1", "\"x\"", "corners_px[1]"},
                    Fault{"board_gone", "/board", "", "board: missing"},
                    Fault{"board_upright", "/board/squares", "[7, 10]", "the larger first"},
                    Fault{"board_huge", "/board/squares", "[1001, 8]", "3 to 100"},
                    Fault{"square", "/board/square_mm", "0", "board.square_mm: must be greater than 0"},
                    Fault{"options_gone", "/options", "", "options: missing"},
                    Fault{"model", "/options/model", "\"best\"", "must be a lens model"},
                    Fault{"flag", "/options/fit_board_shape", "1", "must be true or false"},
                    Fault{"schema", "/schema", "\"x\"", "schema: \"x\" is unknown"}),
    [](const auto& test) { return std::string(test.param.name); });

TEST_P(KeptFaults, AreNamed) {
  const std::string text = changed(made().lens_text, GetParam());
  const std::string message = test::input_error_text([&] { (void)read_lens_inputs(text, "bench/lens.json"); });
  EXPECT_EQ(message.rfind("bench/lens.json: ", 0), 0u) << message;
  EXPECT_NE(message.find(GetParam().complaint), std::string::npos) << message;
}

TEST(LensFile, CutOffTextsAreRefused) {
  const std::string& text = made().lens_text;
  for (std::size_t length = 0; length < text.size() - 2; length += 97) {
    const std::string message =
        test::input_error_text([&] { (void)read_lens_json(text.substr(0, length), "lens.json"); });
    EXPECT_NE(message.find("make it again"), std::string::npos) << message;
  }
  for (const char* other : {"[]", "3", "null", "\"lens\"", "{}"}) {
    (void)test::input_error_text([&] { (void)read_lens_json(other, "lens.json"); });
  }
}

// Values of other kinds in every place: an error that names something, never a crash and never a lens.
TEST(CameraFile, EveryFieldSurvivesNonsense) {
  const json good = json::parse(made().camera_text);
  int tried = 0;
  const auto flat = good.flatten();
  std::mt19937 random(43);
  for (const auto& [pointer, value] : flat.items()) {
    if (random() % 40 != 0) continue;
    for (const json& nonsense : {json("x"), json(nullptr), json::object(), json(-1e300)}) {
      json bad = good;
      bad[json::json_pointer(pointer)] = nonsense;
      ++tried;
      try {
        const CameraRecord record = read_camera_json(bad.dump(), "camera.json");
        EXPECT_TRUE(record.camera.covariance.allFinite());
        EXPECT_TRUE(record.camera.lens.parameters.allFinite());
      } catch (const InputError&) {
      }
    }
  }
  EXPECT_GT(tried, 100);
}

}  // namespace
}  // namespace jigtrue
