// Board finding and lens fitting against a general library's classic way, timed in one run on one thread.
//
//   jigtrue_board_speed [PHOTO... CxRxS]    photos of a board; without: ../shared's camera k08, or else the demo's
//   photos enlarged
//
// The classic way: findChessboardCorners with CALIB_CB_FAST_CHECK alone (its quickest) on the full picture,
// cornerSubPix with a half-window of 11, calibrateCamera with the rational model. Both decode by the same reader.
// Processor time, so that other programs on the machine count little. Ratios are what to compare: seconds depend on the
// machine.
#include "jigtrue/calibration/lens_fit.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"

#include <algorithm>
#include <cstdio>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

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
  std::vector<fs::path> files;
  BoardSpec board;
};

std::vector<fs::path> sorted_files(const fs::path& folder) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder)) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

// The demo's photos at twice their size, about 8 megapixels, in a folder for temporary files.
PhotoSet enlarged_demo() {
  const fs::path folder = fs::temp_directory_path() / "jigtrue_bench_photos";
  fs::create_directories(folder);
  for (const fs::path& file : sorted_files(fs::path(JIGTRUE_SOURCE_DIR) / "fixtures/demo/cameras/attic/lens")) {
    const Photo photo = read_photo(file);
    cv::Mat3b large;
    cv::resize(shrink(photo, photo.width_px()).bgr, large, cv::Size(), 2.0, 2.0, cv::INTER_CUBIC);
    std::ofstream(folder / file.filename(), std::ios::binary) << encode_jpeg(large, 92);
  }
  return {"the demo's photos, enlarged", sorted_files(folder), {10, 7, 20.0}};
}

PhotoSet photo_set(int count, char** arguments) {
  if (count > 2) {
    return {"photos given", std::vector<fs::path>(arguments + 1, arguments + count - 1),
            parse_board_spec(arguments[count - 1])};
  }
  const fs::path shared = fs::path(JIGTRUE_SOURCE_DIR) / "../shared/scenes/cameras/k08/lens";
  if (fs::exists(shared)) return {"shared camera k08", sorted_files(shared), {10, 7, 25.0}};
  return enlarged_demo();
}

struct Corners {
  std::vector<std::vector<cv::Point2f>> px;
  std::vector<std::vector<cv::Point3f>> mm;
};

void add(Corners& corners, const BoardCorners& found) {
  corners.px.emplace_back();
  corners.mm.emplace_back();
  for (std::size_t i = 0; i < found.px.size(); ++i) {
    const Vector3d mm = found.corner_mm(i);
    corners.px.back().emplace_back(static_cast<float>(found.px[i].x()), static_cast<float>(found.px[i].y()));
    corners.mm.back().emplace_back(static_cast<float>(mm.x()), static_cast<float>(mm.y()), 0.0F);
  }
}

std::vector<cv::Point2f> classic(const cv::Mat1b& luma, const BoardSpec& board) {
  std::vector<cv::Point2f> corners;
  const bool found =
      cv::findChessboardCorners(luma, {board.inner_columns(), board.inner_rows()}, corners, cv::CALIB_CB_FAST_CHECK);
  if (!found) return {};
  cv::cornerSubPix(luma, corners, {11, 11}, {-1, -1}, {cv::TermCriteria::COUNT + cv::TermCriteria::EPS, 30, 0.01});
  return corners;
}

// The same calibrator over both kinds of corners: root mean square of the distance, px.
double rational_rms(const Corners& corners, const cv::Size& size) {
  cv::Mat camera;
  cv::Mat distortion;
  std::vector<cv::Mat> rotations;
  std::vector<cv::Mat> translations;
  return cv::calibrateCamera(corners.mm, corners.px, size, camera, distortion, rotations, translations,
                             cv::CALIB_RATIONAL_MODEL);
}

int bench(const PhotoSet& set) {
  cv::setNumThreads(1);
  const double n = static_cast<double>(set.files.size());
  double decoding = 0.0;
  double ours = 0.0;
  double theirs = 0.0;
  Corners our_corners;
  Corners their_corners;
  std::vector<LensPhoto> photos;
  cv::Size size;
  for (const fs::path& file : set.files) {
    const Stopwatch reading;
    const Photo photo = read_photo(file, PhotoColour::luma_only);
    decoding += reading.seconds();
    size = photo.luma.size();
    const Stopwatch finding;
    auto found = find_board(photo.luma, set.board);
    ours += finding.seconds();
    const Stopwatch their_finding;
    auto by_them = classic(photo.luma, set.board);
    theirs += their_finding.seconds();
    if (found) add(our_corners, *found);
    if (!by_them.empty()) {
      BoardCorners whole;
      whole.board = set.board;
      for (const cv::Point2f& p : by_them) whole.px.emplace_back(p.x, p.y);
      add(their_corners, whole);
    }
    photos.push_back({file.filename().string(), size.width, size.height, std::move(found)});
  }
  std::printf("%s: %zu photos of %d x %d px, one thread, processor time\n", set.name.c_str(), set.files.size(),
              size.width, size.height);
  if (our_corners.px.empty() || their_corners.px.empty()) {
    std::printf("the board was not found\n");
    return 1;
  }
  const Stopwatch fitting;
  LensFitOptions options;
  options.judge_board_shape = true;  // as the lens command does
  const LensFit fit = fit_lens(photos, options);
  const double our_fit = fitting.seconds();
  const Stopwatch their_fitting;
  const double their_rms = rational_rms(their_corners, size);
  const double their_fit = their_fitting.seconds();
  std::printf("                                 jigtrue    classic     ratio\n");
  std::printf("decoding, a photo              %7.4f s  %7.4f s  (the same reader)\n", decoding / n, decoding / n);
  std::printf("finding and refining, a photo  %7.4f s  %7.4f s  %8.2f\n", ours / n, theirs / n, ours / theirs);
  std::printf("with decoding, a photo         %7.4f s  %7.4f s  %8.2f\n", (ours + decoding) / n,
              (theirs + decoding) / n, (ours + decoding) / (theirs + decoding));
  std::printf(
      "lens fit                       %7.4f s  %7.4f s  %8.2f  (three models, held-out photos, covariance / one "
      "model)\n",
      our_fit, their_fit, our_fit / their_fit);
  std::printf("all                            %7.4f s  %7.4f s  %8.2f\n", ours + decoding + our_fit,
              theirs + decoding + their_fit, (ours + decoding + our_fit) / (theirs + decoding + their_fit));
  std::printf("photos found                   %9zu  %9zu\n", our_corners.px.size(), their_corners.px.size());
  std::printf("rms, same rational calibrator  %6.3f px  %6.3f px\n", rational_rms(our_corners, size), their_rms);
  std::printf("lens: %s, rms %.3f px\n", to_string(fit.lens.model), fit.rms_px);
  return 0;
}

}  // namespace
}  // namespace jigtrue

int main(int count, char** arguments) {
  try {
    return jigtrue::bench(jigtrue::photo_set(count, arguments));
  } catch (const std::exception& error) {
    std::fprintf(stderr, "jigtrue_board_speed: %s\n", error.what());
    return 2;
  }
}
