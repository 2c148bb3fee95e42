// A general library's classic way with photos of a board: its finder, its corner refinement and its calibration.
#pragma once
#include "jigtrue/camera/lens.hpp"
#include "jigtrue/image/board.hpp"

#include <algorithm>
#include <optional>
#include <vector>

#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

namespace jigtrue::classic {

using Corners = std::vector<cv::Point2f>;

// All inner corners of the whole board, or nothing.
inline std::optional<Corners> find(const cv::Mat1b& luma, const BoardSpec& board) {
  Corners corners;
  if (!cv::findChessboardCorners(luma, {board.inner_columns(), board.inner_rows()}, corners)) return std::nullopt;
  double spacing = 1e9;
  for (std::size_t i = 1; i < corners.size(); ++i)
    if (i % static_cast<std::size_t>(board.inner_columns()) != 0)
      spacing = std::min(spacing, cv::norm(corners[i] - corners[i - 1]));
  // a window near the spacing spoils corners
  const int half = std::clamp(static_cast<int>(0.3 * spacing), 3, 11);
  cv::cornerSubPix(luma, corners, {half, half}, {-1, -1}, {cv::TermCriteria::COUNT + cv::TermCriteria::EPS, 30, 0.01});
  return corners;
}

// What a calibration starts from: places on the boards and in the photos.
struct Views {
  std::vector<std::vector<cv::Point3f>> mm;
  std::vector<Corners> px;

  void add(const Corners& corners, const BoardSpec& board) {
    px.push_back(corners);
    mm.emplace_back();
    for (int row = 0; row < board.inner_rows(); ++row)
      for (int column = 0; column < board.inner_columns(); ++column) {
        const Vector3d at = board.corner_mm(column, row);
        mm.back().emplace_back(static_cast<float>(at.x()), static_cast<float>(at.y()), 0.0F);
      }
  }
};

// Root mean square of the distance, px, that the library's own fit of that model leaves.
inline double calibrated_rms(const Views& views, const cv::Size& size, LensModel model) {
  cv::Mat camera = (cv::Mat_<double>(3, 3) << 0.5 * size.width, 0.0, 0.5 * size.width, 0.0, 0.5 * size.width,
                    0.5 * size.height, 0.0, 0.0, 1.0);
  cv::Mat distortion = model == LensModel::equidistant4 ? cv::Mat(cv::Mat::zeros(4, 1, CV_64F)) : cv::Mat();
  std::vector<cv::Mat> rotations;
  std::vector<cv::Mat> translations;
  switch (model) {
    case LensModel::equidistant4:
      return cv::fisheye::calibrate(views.mm, views.px, size, camera, distortion, rotations, translations,
                                    cv::fisheye::CALIB_RECOMPUTE_EXTRINSIC | cv::fisheye::CALIB_FIX_SKEW |
                                        cv::fisheye::CALIB_USE_INTRINSIC_GUESS);
    case LensModel::radial2:
      return cv::calibrateCamera(views.mm, views.px, size, camera, distortion, rotations, translations,
                                 cv::CALIB_FIX_K3 | cv::CALIB_ZERO_TANGENT_DIST);
    case LensModel::radial5:
      return cv::calibrateCamera(views.mm, views.px, size, camera, distortion, rotations, translations);
    case LensModel::rational8:
      return cv::calibrateCamera(views.mm, views.px, size, camera, distortion, rotations, translations,
                                 cv::CALIB_RATIONAL_MODEL);
  }
  return 0.0;
}

}  // namespace jigtrue::classic
