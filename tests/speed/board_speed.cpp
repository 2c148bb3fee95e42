// Board finding and lens fitting against a general library's classic way, in one run on one thread: a line a set.
//
//   jigtrue_board_speed [CxRxS PHOTO...]    photos of a board; without: the real sets beside the project and those of
//   opencv-doc, the cameras of the drawn scenes, and the demo's
//
// The same reader decodes for both; the library calibrates the model that was chosen here, on its own corners.
// Processor time, so that other programs on the machine count little: ratios are what to compare. Left-out photos: half
// of each board foreseen from its other half, by a lens fitted without that photo; for the library's corners too, and
// both on the photos that the library finds a board in.
#include "jigtrue/calibration/lens_fit.hpp"
#include "jigtrue/image/read_photo.hpp"

#include <algorithm>
#include <cstdio>
#include <ctime>
#include <filesystem>
#include <string>
#include <vector>

#include "calibration/classic_way.hpp"

namespace jigtrue {
namespace {

namespace fs = std::filesystem;

class Stopwatch {
 public:
  [[nodiscard]] double seconds() const { return static_cast<double>(std::clock() - start_) / CLOCKS_PER_SEC; }

 private:
  std::clock_t start_ = std::clock();
};

struct PhotoSet {
  std::string name;
  BoardSpec board;
  std::vector<fs::path> files;
};

std::vector<fs::path> files_of(const fs::path& folder, const std::string& prefix = {}) {
  std::vector<fs::path> files;
  if (!fs::exists(folder)) return files;
  for (const auto& entry : fs::directory_iterator(folder)) {
    const std::string name = entry.path().filename().string();
    const std::string kind = entry.path().extension().string();
    if (name.starts_with(prefix) && (kind == ".jpg" || kind == ".png")) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

// left01 to left14; the same name without a number is of something else.
std::vector<fs::path> numbered_samples(const std::string& side) {
  const fs::path folder = "/usr/share/doc/opencv-doc/examples/data";
  std::vector<fs::path> files = files_of(folder, side + "0");
  const std::vector<fs::path> more = files_of(folder, side + "1");
  files.insert(files.end(), more.begin(), more.end());
  return files;
}

std::vector<PhotoSet> known_sets() {
  const fs::path source = JIGTRUE_SOURCE_DIR;
  const fs::path boards = source / "../shared/real/boards";
  const fs::path scenes = source / "../shared/scenes/cameras";
  return {{"sony", {7, 5, 30.0}, files_of(boards / "sony", "frame")},
          {"table", {9, 6, 25.0}, files_of(boards / "table", "img")},
          {"wide", {9, 7, 25.0}, files_of(boards / "wide")},
          {"left", {10, 7, 25.0}, numbered_samples("left")},
          {"right", {10, 7, 25.0}, numbered_samples("right")},
          {"k08", {10, 7, 25.0}, files_of(scenes / "k08/lens")},
          {"w05", {10, 7, 25.0}, files_of(scenes / "w05/lens")},
          {"attic", {10, 7, 20.0}, files_of(source / "fixtures/demo/cameras/attic/lens")}};
}

// As the finder of whole boards gives them.
BoardCorners described(const classic::Corners& corners, const BoardSpec& board) {
  BoardCorners whole;
  whole.board = board;
  whole.px.reserve(corners.size());
  whole.sigma_px.reserve(corners.size());
  for (const cv::Point2f& p : corners) {
    whole.px.emplace_back(static_cast<double>(p.x), static_cast<double>(p.y));
    whole.sigma_px.push_back(0.1);
  }
  return whole;
}

double held_out_px(const LensFit& fit) {
  for (const ModelTrial& trial : fit.trials)
    if (trial.model == fit.lens.model) return trial.held_out_px;
  return 0.0;
}

std::size_t used_photos(const LensFit& fit) {
  return static_cast<std::size_t>(
      std::count_if(fit.photos.begin(), fit.photos.end(), [](const PhotoFit& photo) { return photo.used; }));
}

void compare(const PhotoSet& set) {
  cv::setNumThreads(1);
  double decoding = 0.0;
  double ours = 0.0;
  double theirs = 0.0;
  classic::Views views;
  std::vector<LensPhoto> photos;
  std::vector<LensPhoto> by_them;
  std::vector<LensPhoto> by_both;  // ours, of the photos that they found a board in, too
  photos.reserve(set.files.size());
  by_both.reserve(set.files.size());
  by_them.reserve(set.files.size());
  cv::Size size;
  for (const fs::path& file : set.files) {
    const Stopwatch reading;
    const cv::Mat1b luma = read_photo(file, PhotoColour::luma_only).luma;
    decoding += reading.seconds();
    size = luma.size();
    const Stopwatch finding;
    photos.push_back({file.filename().string(), luma.cols, luma.rows, find_board(luma, set.board)});
    ours += finding.seconds();
    const Stopwatch their_finding;
    const auto corners = classic::find(luma, set.board);
    theirs += their_finding.seconds();
    if (!corners) continue;
    views.add(*corners, set.board);
    by_both.push_back(photos.back());
    by_them.push_back({file.filename().string(), luma.cols, luma.rows, described(*corners, set.board)});
  }
  LensFitOptions options;
  options.judge_board_shape = true;  // as the lens command does
  const Stopwatch fitting;
  const LensFit fit = fit_lens(photos, options);
  const double our_fit = fitting.seconds();
  if (views.px.size() < 3) {
    std::printf("%-6s %-13s %2zu of %zu used, classic %zu found\n", set.name.c_str(), to_string(fit.lens.model),
                used_photos(fit), set.files.size(), views.px.size());
    return;
  }
  const Stopwatch their_fitting;
  const double their_rms = classic::calibrated_rms(views, size, fit.lens.model);
  const double their_fit = their_fitting.seconds();
  options.model = fit.lens.model;
  const LensFit on_their_corners = fit_lens(by_them, options);
  const LensFit on_their_photos = fit_lens(by_both, options);
  std::printf("%-6s %-13s %2zu (%2zu) of %2zu   %.4f (%.4f)   %.4f (%.4f)   %.3f (%.3f)   %.3f (%.3f)   %.2f\n",
              set.name.c_str(), to_string(fit.lens.model), used_photos(fit), views.px.size(), set.files.size(),
              fit.rms_px, their_rms, held_out_px(on_their_photos), held_out_px(on_their_corners), decoding + ours,
              decoding + theirs, our_fit, their_fit, (decoding + ours + our_fit) / (decoding + theirs + their_fit));
}

}  // namespace
}  // namespace jigtrue

int main(int count, char** arguments) {
  try {
    using namespace jigtrue;
    std::vector<PhotoSet> sets = known_sets();
    if (count > 2) sets = {{"given", parse_board_spec(arguments[1]), {arguments + 2, arguments + count}}};
    std::printf(
        "in brackets: the classic way\n"
        "set    model         photos used   rms px            left-out photos   reading, finding s  fit s    time "
        "ratio\n");
    for (const PhotoSet& set : sets) {
      if (set.files.empty())
        std::printf("%-6s not here\n", set.name.c_str());
      else
        compare(set);
    }
  } catch (const std::exception& error) {
    std::fprintf(stderr, "jigtrue_board_speed: %s\n", error.what());
    return 2;
  }
}
