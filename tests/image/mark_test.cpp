#include "jigtrue/image/mark.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/image/read_photo.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <random>
#include <sstream>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "image/rendered_checkers.hpp"
#include <Eigen/Dense>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using test::look_at;
using test::mark_pattern;
using test::Pattern;
using test::render;
using test::seeded_by_name;
using test::View;
using testing::HasSubstr;

// What a camera's map would tell: place and scale at the mark, as if it were not turned.
MarkPrediction predict(const View& view, const Vector2d& place_mm = Vector2d::Zero()) {
  MarkPrediction prediction;
  prediction.centre_px = view.px(place_mm);
  constexpr double kStep = 0.01;
  const auto slope = [&](const Vector2d& step) {
    return Vector2d((view.px(place_mm + step) - view.px(place_mm - step)) / (2.0 * kStep));
  };
  prediction.px_from_mm.col(0) = slope({kStep, 0.0});
  prediction.px_from_mm.col(1) = slope({0.0, kStep});
  return prediction;
}

Pattern turned(const Pattern& pattern, double deg) {
  return [pattern, deg](const Vector2d& p) { return pattern(Eigen::Rotation2Dd(rad_from_deg(-deg)) * p); };
}

const cv::Size kSize(240, 220);
// These are cut-outs of a photo: over one mark the scale changes by some percent only, as under a bench camera.
constexpr double kFocalPx = 1500.0;

struct Case {
  double field_px = 20.0, turn_deg = 0.0, lean_deg = 0.0, blur_px = 1.0;
};

View view_of(const Case& c, double spin_deg = 0.0) {
  return look_at(kSize, {Vector2d::Zero(), c.field_px / 8.0, spin_deg, c.lean_deg, 70.0, {3.37, -5.21}, kFocalPx});
}

TEST(FindMark, CleanMarksAreTrueAndTheirSigmaHonest) {
  auto random = seeded_by_name();
  std::uniform_real_distribution<double> any(-180.0, 180.0);
  double squares = 0.0;
  double chi_square = 0.0;
  Vector2d sum = Vector2d::Zero();
  int count = 0;
  for (const double field_px : {10.0, 16.0, 25.0, 40.0, 60.0})
    for (const double lean_deg : {0.0, 25.0, 45.0})
      for (const double blur_px : {0.7, 1.3}) {
        const Case c{field_px, any(random), lean_deg, blur_px};
        const View view = view_of(c, any(random));
        const cv::Mat1b luma =
            render(kSize, view, turned(mark_pattern(8.0, 1.5), c.turn_deg), {c.blur_px, 2.0, 0.2}, random);
        MarkPrediction prediction = predict(view);
        prediction.centre_px += Vector2d(4.0, -3.0);
        const auto mark = find_mark(luma, prediction);
        const std::string what = "field " + std::to_string(field_px) + " px, lean " + std::to_string(lean_deg) +
                                 ", blur " + std::to_string(blur_px) + ", turn " + std::to_string(c.turn_deg);
        ASSERT_TRUE(mark.ok()) << what << ": " << mark.reason();
        const Vector2d error = mark->px - view.px(Vector2d::Zero());
        EXPECT_LE(error.norm(), 0.05) << what;
        // A degree is what edges of a few fields' length give in the smallest marks; half a turn makes no difference.
        EXPECT_LE(std::abs(std::remainder(mark->turn_deg - c.turn_deg, 180.0)), 1.5) << what;
        EXPECT_GT(mark->turn_deg, -90.0 - 1e-9);
        EXPECT_LE(mark->turn_deg, 90.0);
        EXPECT_NEAR(mark->contrast, 150.0, 25.0) << what;
        squares += error.squaredNorm();
        chi_square += error.squaredNorm() / (mark->sigma_px * mark->sigma_px);
        sum += error;
        ++count;
      }
  const double rms = std::sqrt(squares / count);
  RecordProperty("rms_px", std::to_string(rms));
  RecordProperty("chi_square", std::to_string(chi_square / (2.0 * count)));
  EXPECT_LE(rms, 0.02);
  EXPECT_LE((sum / count).cwiseAbs().maxCoeff(), 0.005);
  // 60 values: four times sqrt(2 / 60). No lower bound: the stated floor (paper, ink) is absent from these pictures.
  EXPECT_LE(chi_square / (2.0 * count), 1.0 + 4.0 * std::sqrt(2.0 / 60.0));
}

// An edge bent to a radius of about 1500 px, as a wide lens does near the picture's border.
TEST(FindMark, StaysTrueUnderAWideLensAwayFromItsMiddle) {
  auto random = seeded_by_name();
  for (const double turn : {0.0, 30.0, 60.0}) {
    const View view = look_at({500, 400}, {Vector2d::Zero(), 3.0, 0.0, 20.0, 70.0, {170.0, 120.0}}, 1e-6);
    const cv::Mat1b luma = render({500, 400}, view, turned(mark_pattern(8.0, 2.0), turn), {0.9, 2.0, 0.1}, random);
    const auto mark = find_mark(luma, predict(view));
    ASSERT_TRUE(mark.ok()) << mark.reason();
    EXPECT_LE((mark->px - view.px(Vector2d::Zero())).norm(), 0.05) << turn;
  }
}

TEST(FindMark, StaysTrueWhenSoiledOrUnevenlyLit) {
  auto random = seeded_by_name();
  const Case c{30.0, 20.0, 15.0, 1.0};
  const View view = view_of(c);
  const Pattern clean = turned(mark_pattern(8.0, 1.0), c.turn_deg);
  const Pattern spots = [&](const Vector2d& p) {
    if ((p - Vector2d(3.5, 0.5)).norm() < 1.2) return 120.0;
    if ((p - Vector2d(-5.0, 4.0)).norm() < 1.5) return 70.0;
    return clean(p);
  };
  const Pattern scratch = [&](const Vector2d& p) {
    return std::abs(p.x() + 0.4 * p.y() - 3.0) < 0.25 ? 170.0 : clean(p);
  };
  const Pattern shaded = [&](const Vector2d& p) { return clean(p) * (1.0 + 0.03 * p.x() - 0.02 * p.y()); };
  const Pattern faint = turned(mark_pattern(8.0, 1.0, 100.0, 140.0, 120.0), c.turn_deg);
  for (const auto& [name, pattern] : {std::pair{"spots", spots}, std::pair{"scratch", scratch},
                                      std::pair{"shaded", shaded}, std::pair{"faint", faint}}) {
    const cv::Mat1b luma = render(kSize, view, pattern, {c.blur_px, 2.0, 0.3}, random);
    const auto mark = find_mark(luma, predict(view));
    ASSERT_TRUE(mark.ok()) << name << ": " << mark.reason();
    const double error = (mark->px - view.px(Vector2d::Zero())).norm();
    EXPECT_LE(error, 0.1) << name;
    EXPECT_LE(error, 4.0 * mark->sigma_px) << name;
  }
}

TEST(FindMark, TellsHowTheMarkIsTurned) {
  auto random = seeded_by_name();
  for (const double turn : {-80.0, -45.0, -10.0, 0.0, 10.0, 45.0, 80.0, 90.0, 135.0, 180.0}) {
    const Case c{24.0, turn, 0.0, 1.0};
    const View view = view_of(c);
    const cv::Mat1b luma = render(kSize, view, turned(mark_pattern(8.0, 1.5), turn), {1.0, 2.0, 0.1}, random);
    MarkPrediction prediction = predict(view);
    const auto mark = find_mark(luma, prediction);
    ASSERT_TRUE(mark.ok()) << turn << ": " << mark.reason();
    EXPECT_LE(std::abs(std::remainder(mark->turn_deg - turn, 180.0)), 0.5);
    prediction.any_turn = false;
    const bool upright = std::abs(std::remainder(turn, 180.0)) < 30.0;
    EXPECT_EQ(find_mark(luma, prediction).ok(), upright) << turn;
  }
}

// ---- what must be refused ----------------------------------------------------------------------------------------

TEST(FindMarkRefuses, WhatIsNoMark) {
  auto random = seeded_by_name();
  const View view = view_of({24.0, 0.0, 0.0, 1.0});
  const Pattern clean = mark_pattern(8.0, 1.5);
  const std::vector<std::pair<std::string, Pattern>> wrong{
      {"nothing", [](const Vector2d&) { return 120.0; }},
      {"a straight edge", [](const Vector2d& p) { return p.x() < 0.0 ? 40.0 : 200.0; }},
      {"a cross", [](const Vector2d& p) { return std::min(std::abs(p.x()), std::abs(p.y())) < 0.6 ? 40.0 : 200.0; }},
      {"one black field", [](const Vector2d& p) { return p.x() < 0.0 && p.y() < 0.0 ? 40.0 : 200.0; }},
      {"three black fields", [](const Vector2d& p) { return p.x() > 0.0 && p.y() > 0.0 ? 200.0 : 40.0; }},
      {"a disc", [](const Vector2d& p) { return p.norm() < 8.0 ? 40.0 : 200.0; }},
      {"a mark of half the size", mark_pattern(4.0, 6.0)},
      {"a checker of small squares",
       [](const Vector2d& p) {
         return (static_cast<int>(std::floor(p.x() / 2.5)) + static_cast<int>(std::floor(p.y() / 2.5))) % 2 == 0
                    ? 40.0
                    : 200.0;
       }},
      {"edges crossing at 50 degrees",
       [](const Vector2d& p) { return (p.y() > 0.0) == (p.y() > 1.19 * p.x()) ? 40.0 : 200.0; }},
      {"a mark covered over a third", [&](const Vector2d& p) { return p.x() > 1.0 ? 110.0 : clean(p); }},
      {"a mark with its centre covered", [&](const Vector2d& p) { return p.norm() < 5.0 ? 110.0 : clean(p); }},
  };
  for (const auto& [name, pattern] : wrong) {
    const cv::Mat1b luma = render(kSize, view, pattern, {1.0, 2.0, 0.1}, random);
    const auto mark = find_mark(luma, predict(view));
    ASSERT_FALSE(mark.ok()) << name;
    EXPECT_FALSE(mark.reason().empty()) << name;
  }
}

TEST(FindMarkRefuses, AMarkBeyondTheCircleSearched) {
  auto random = seeded_by_name();
  const View view = view_of({16.0, 0.0, 0.0, 1.0});
  const cv::Mat1b luma = render(kSize, view, mark_pattern(8.0, 1.5), {1.0, 2.0, 0.1}, random);
  MarkPrediction prediction = predict(view);
  prediction.search_px = 15.0;
  prediction.centre_px += Vector2d(14.0, 0.0);
  EXPECT_TRUE(find_mark(luma, prediction).ok());
  prediction.centre_px += Vector2d(2.0, 0.0);
  EXPECT_FALSE(find_mark(luma, prediction).ok());
}

TEST(FindMarkRefuses, TwoMarksInTheCircleSearched) {
  auto random = seeded_by_name();
  const View view = view_of({16.0, 0.0, 0.0, 1.0});
  const Pattern one = mark_pattern(8.0, 1.5);
  const Pattern two = [&](const Vector2d& p) {
    return one(Vector2d(p.x() > 0.0 ? p.x() - 12.0 : p.x() + 12.0, p.y()));
  };
  const cv::Mat1b luma = render(kSize, view, two, {1.0, 2.0, 0.1}, random);
  const auto mark = find_mark(luma, predict(view));
  ASSERT_FALSE(mark.ok());
  EXPECT_THAT(mark.reason(), HasSubstr("more than one"));
}

TEST(FindMarkRefuses, PlacesOutsideThePhoto) {
  auto random = seeded_by_name();
  const View view = view_of({16.0, 0.0, 0.0, 1.0});
  const cv::Mat1b luma = render(kSize, view, mark_pattern(8.0, 1.5), {1.0, 2.0, 0.1}, random);
  MarkPrediction prediction = predict(view);
  for (const Vector2d& place : {Vector2d(-500.0, 50.0), Vector2d(1e7, 1e7), Vector2d(120.0, -90.0)}) {
    prediction.centre_px = place;
    EXPECT_FALSE(find_mark(luma, prediction).ok());
  }
  // Cut through the mark's middle.
  const auto centre = view.px(Vector2d::Zero());
  prediction.centre_px = centre;
  const cv::Mat1b cut = luma(cv::Rect(0, 0, static_cast<int>(centre.x()) + 3, luma.rows)).clone();
  EXPECT_FALSE(find_mark(cut, prediction).ok());
}

TEST(FindMarkRefuses, MarksTooSmallToMeasure) {
  auto random = seeded_by_name();
  const View view = view_of({4.0, 0.0, 0.0, 0.7});
  const cv::Mat1b luma = render(kSize, view, mark_pattern(8.0, 1.5), {0.7, 2.0, 0.1}, random);
  const auto mark = find_mark(luma, predict(view));
  ASSERT_FALSE(mark.ok());
  EXPECT_THAT(mark.reason(), HasSubstr("too small"));
}

TEST(FindMarkRefuses, ImpossiblePredictionsAreTheProgrammersMistake) {
  MarkPrediction prediction = predict(view_of({16.0, 0.0, 0.0, 1.0}));
  const cv::Mat1b luma(100, 100, static_cast<unsigned char>(0));
  EXPECT_THROW((void)find_mark(cv::Mat1b(), prediction), std::logic_error);
  prediction.centre_px.x() = std::nan("");
  EXPECT_THROW((void)find_mark(luma, prediction), std::logic_error);
}

// Searches all over pictures of a texture; the distinct places taken for marks.
std::vector<Vector2d> marks_taken(const Pattern& pattern, double field_px, int searches, std::mt19937_64& random) {
  const cv::Size size(360, 280);
  std::uniform_real_distribution<double> unit(0.0, 1.0);
  const View view = look_at(size, {Vector2d::Zero(), field_px / 8.0, 20.0, 15.0, 0.0, {0.0, 0.0}, kFocalPx});
  const cv::Mat1b luma = render(size, view, pattern, {1.0, 3.0, 0.2, 8}, random);
  std::vector<Vector2d> taken;
  for (int i = 0; i < searches; ++i) {
    const Vector2d px(unit(random) * size.width, unit(random) * size.height);
    const auto mark = find_mark(luma, predict(view, view.mm(px)));
    if (!mark) continue;
    const bool known =
        std::any_of(taken.begin(), taken.end(), [&](const Vector2d& p) { return (p - mark->px).norm() < 2.0; });
    if (!known) taken.push_back(mark->px);
  }
  return taken;
}

// No place may pass for a mark. None in 1125 bounds the rate at 0.3 % (95 %, rule of three).
TEST(FindMarkRefuses, WorkshopTextures) {
  auto random = seeded_by_name();
  const auto slats = [](const Vector2d& p) {
    return std::fmod(std::abs(p.x() + 0.2 * p.y()), 12.0) < 3.0 ? 170.0 : 60.0;
  };
  const auto grain = [](const Vector2d& p) {
    return 130.0 + 40.0 * std::sin(0.9 * p.y() + 2.0 * std::sin(0.11 * p.x()));
  };
  for (const Pattern& pattern : {Pattern(test::honeycomb), Pattern(slats), Pattern(grain)})
    for (const double field_px : {12.0, 25.0, 40.0})
      EXPECT_TRUE(marks_taken(pattern, field_px, 125, random).empty()) << "field " << field_px << " px";
}

// Random black and white blocks of 5 mm hold real 2 x 2 checkers of 10 mm by chance, which nothing tells from a mark
// out to 0.85 of its fields. At a crossing: a checker with probability 1/8, each field's three further blocks alike 1/8
// (1/4 if the block at its far corner may differ, as a spot may): at most 1/8 / 4^4 = 1/2048. Some 2600 crossings lie
// in the three pictures: 1.3 expected at most, so more than 1.3 + 4 sqrt(1.3) = 5.9 means that other things pass too.
TEST(FindMarkRefuses, BlocksSaveForThoseThatFormACheckerByChance) {
  auto random = seeded_by_name();
  std::uniform_real_distribution<double> unit(0.0, 1.0);
  std::vector<double> colours(std::size_t{64} * 64);
  for (double& colour : colours) colour = unit(random) < 0.5 ? 45.0 : 195.0;
  const auto blocks = [&](const Vector2d& p) {
    const auto i = static_cast<std::size_t>(static_cast<int>(std::floor(p.x() / 5.0)) & 63);
    const auto j = static_cast<std::size_t>(static_cast<int>(std::floor(p.y() / 5.0)) & 63);
    return colours[j * 64 + i];
  };
  std::size_t taken = 0;
  for (const double field_px : {12.0, 25.0, 40.0}) taken += marks_taken(blocks, field_px, 125, random).size();
  EXPECT_LE(taken, 5U);
}

// ---- ray-traced photos -------------------------------------------------------------------------------------------

std::filesystem::path shared_scenes() { return std::filesystem::path(JIGTRUE_SOURCE_DIR) / "../shared/scenes"; }

nlohmann::json read_json(const std::filesystem::path& file) {
  std::ifstream stream(file);
  return nlohmann::json::parse(stream);
}

Vector2d place_of(const nlohmann::json& m) { return {m[0].get<double>(), m[1].get<double>()}; }

// Pixel from bed place at height 0: a polynomial of the seventh degree through the known points.
class BedMap {
 public:
  explicit BedMap(const std::filesystem::path& csv) {
    std::ifstream stream(csv);
    std::string line;
    std::getline(stream, line);
    std::vector<Vector2d> bed, px;
    while (std::getline(stream, line)) {
      double v[5];
      char comma = 0;
      std::istringstream fields(line);
      fields >> v[0] >> comma >> v[1] >> comma >> v[2] >> comma >> v[3] >> comma >> v[4];
      if (v[4] != 0.0) continue;
      px.emplace_back(v[0], v[1]);
      bed.emplace_back(v[2], v[3]);
      reach_ = std::max({reach_, v[2], v[3]});
    }
    MatrixXd design(static_cast<Eigen::Index>(bed.size()), 36);
    MatrixXd seen(static_cast<Eigen::Index>(bed.size()), 2);
    for (std::size_t i = 0; i < bed.size(); ++i) {
      design.row(static_cast<Eigen::Index>(i)) = terms(bed[i]).transpose();
      seen.row(static_cast<Eigen::Index>(i)) = px[i].transpose();
    }
    coefficients_ = solve_least_squares(design, seen);
  }
  [[nodiscard]] Vector2d px(const Vector2d& bed) const { return coefficients_.transpose() * terms(bed); }

 private:
  [[nodiscard]] VectorXd terms(const Vector2d& bed) const {
    const Vector2d u = bed / (0.5 * reach_) - Vector2d::Ones();
    VectorXd list(36);
    int n = 0;
    for (int i = 0; i < 8; ++i)
      for (int j = 0; i + j < 8; ++j) list[n++] = std::pow(u.x(), i) * std::pow(u.y(), j);
    return list;
  }
  double reach_ = 0.0;
  MatrixXd coefficients_;
};

MarkPrediction predict(const BedMap& map, const Vector2d& bed) {
  MarkPrediction prediction;
  prediction.centre_px = map.px(bed);
  prediction.px_from_mm.col(0) = 0.5 * (map.px(bed + Vector2d(1.0, 0.0)) - map.px(bed - Vector2d(1.0, 0.0)));
  prediction.px_from_mm.col(1) = 0.5 * (map.px(bed + Vector2d(0.0, 1.0)) - map.px(bed - Vector2d(0.0, 1.0)));
  return prediction;
}

std::vector<std::filesystem::path> photos_of(const std::string& camera) {
  std::vector<std::filesystem::path> files{shared_scenes() / "cameras" / camera / "pose.jpg"};
  for (const auto& entry : std::filesystem::directory_iterator(shared_scenes())) {
    const auto truth = entry.path() / "truth.json";
    if (std::filesystem::exists(truth) && read_json(truth)["camera"] == camera)
      files.push_back(entry.path() / "photo.jpg");
  }
  return files;
}

class SharedMarks : public testing::TestWithParam<const char*> {};

// The marks stuck to the bed do not move between photos of one camera.
TEST_P(SharedMarks, BedMarksAreFoundInEveryPhotoAtOnePlace) {
  const std::string camera = GetParam();
  if (!std::filesystem::exists(shared_scenes())) GTEST_SKIP() << "no ../shared/scenes here";
  const BedMap map(shared_scenes() / "cameras" / camera / "map_truth.csv");
  const auto board = read_json(shared_scenes() / "cameras" / camera / "board.json");
  double squares = 0.0;
  double chi_square = 0.0;
  int freedom = 0;
  std::vector<std::vector<MarkPosition>> seen(board["witness_mm"].size());
  for (const auto& file : photos_of(camera)) {
    const Photo photo = read_photo(file, PhotoColour::luma_only);
    for (std::size_t i = 0; i < seen.size(); ++i) {
      const Vector2d bed = place_of(board["witness_mm"][i]);
      MarkPrediction prediction = predict(map, bed);
      const Vector2d truth = prediction.centre_px;
      prediction.centre_px += Vector2d(7.0, -5.0);
      const auto mark = find_mark(photo.luma, prediction);
      ASSERT_TRUE(mark.ok()) << file << ": " << mark.reason();
      // The mark lies on top of its own thickness, which the map at height 0 does not know: well under a millimetre.
      EXPECT_LE((mark->px - truth).norm(), 1.0) << file;
      EXPECT_LE(std::abs(mark->turn_deg), 1.0) << file;
      seen[i].push_back(*mark);
    }
  }
  for (const auto& positions : seen) {
    ASSERT_GE(positions.size(), 3U);
    Vector2d mean = Vector2d::Zero();
    for (const MarkPosition& p : positions) mean += p.px / static_cast<double>(positions.size());
    for (const MarkPosition& p : positions) {
      const double square = (p.px - mean).squaredNorm();
      EXPECT_LE(std::sqrt(square), 0.1);
      squares += square;
      chi_square += square / (p.sigma_px * p.sigma_px);
    }
    freedom += 2 * (static_cast<int>(positions.size()) - 1);
  }
  RecordProperty("sd_px", std::to_string(std::sqrt(squares / freedom)));
  RecordProperty("chi_square", std::to_string(chi_square / freedom));
  EXPECT_LE(std::sqrt(squares / freedom), 0.05);
  EXPECT_LE(chi_square / freedom, 1.0 + 4.0 * std::sqrt(2.0 / freedom));
}

// None in 1000 places bounds the rate of false marks at 0.3 % (95 %, rule of three).
TEST_P(SharedMarks, NoMarkIsFoundWhereNoneIs) {
  const std::string camera = GetParam();
  if (!std::filesystem::exists(shared_scenes())) GTEST_SKIP() << "no ../shared/scenes here";
  auto random = seeded_by_name();
  const BedMap map(shared_scenes() / "cameras" / camera / "map_truth.csv");
  const auto board = read_json(shared_scenes() / "cameras" / camera / "board.json");
  const Vector2d reach = place_of(board["witness_mm"][3]) + Vector2d(12.0, 12.0);  // the bed's far corner
  std::uniform_real_distribution<double> x(0.0, reach.x());
  std::uniform_real_distribution<double> y(0.0, reach.y());
  auto files = photos_of(camera);
  files.erase(files.begin());  // the board's own corners are checkers
  int places = 0;
  std::size_t next = 0;
  std::vector<std::pair<Photo, std::vector<Vector2d>>> photos;
  for (const auto& file : files) {
    std::vector<Vector2d> marks;
    for (const auto& m : board["witness_mm"]) marks.push_back(place_of(m));
    const auto fixture = read_json(file.parent_path() / "fixture.json");
    if (fixture.contains("marks_mm"))
      for (const auto& m : fixture["marks_mm"]) marks.push_back(place_of(m));
    photos.emplace_back(read_photo(file, PhotoColour::luma_only), marks);
  }
  while (places < 1000) {
    const auto& [photo, marks] = photos[next++ % photos.size()];
    const Vector2d bed(x(random), y(random));
    const MarkPrediction prediction = predict(map, bed);
    const double clear_mm = prediction.search_px / prediction.px_from_mm.col(0).norm() * 2.0 + 10.0;
    const bool near =
        std::any_of(marks.begin(), marks.end(), [&](const Vector2d& m) { return (m - bed).norm() < clear_mm; });
    if (near) continue;
    const auto mark = find_mark(photo.luma, prediction);
    EXPECT_FALSE(mark.ok()) << photo.file << " at " << prediction.centre_px.transpose();
    ++places;
  }
}

// A jig's own marks, up to 1.5 mm off and above the bed.
TEST(SharedMarkedJig, CarriesSixMarksThatAreFound) {
  const auto folder = shared_scenes() / "marked_jig";
  if (!std::filesystem::exists(folder)) GTEST_SKIP() << "no ../shared/scenes here";
  const BedMap map(shared_scenes() / "cameras/k08/map_truth.csv");
  const Photo photo = read_photo(folder / "photo.jpg", PhotoColour::luma_only);
  const auto fixture = read_json(folder / "fixture.json");
  ASSERT_EQ(fixture["marks_mm"].size(), 6U);
  for (const auto& m : fixture["marks_mm"]) {
    const auto mark = find_mark(photo.luma, predict(map, place_of(m)));
    ASSERT_TRUE(mark.ok()) << m << ": " << mark.reason();
    EXPECT_LE(mark->sigma_px, 0.06);
  }
}

INSTANTIATE_TEST_SUITE_P(Cameras, SharedMarks, testing::Values("k08", "w05"));

}  // namespace
}  // namespace jigtrue
