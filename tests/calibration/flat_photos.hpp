// A checkerboard photographed flat on the bed at three places, and a lens as a lens file tells of it.
#pragma once
#include "jigtrue/calibration/pose_fit.hpp"

#include <string>
#include <vector>

#include "calibration/synthetic.hpp"

namespace jigtrue::synthetic {

inline constexpr double kCornerNoise_px = 0.06;  // alone and together
inline constexpr double kBoardHeight_mm = 3.0;

// `sure`: how many times as uncertain as usual.
inline LensRecord known_lens(const Lens& lens, double sure = 1.0) {
  LensRecord record;
  record.lens = lens;
  record.rms_px = 0.12;
  record.noise_px = kCornerNoise_px;
  record.together_px = kCornerNoise_px;
  VectorXd sigma = VectorXd::Constant(lens.parameters.size(), 1e-4);
  sigma.head<4>() << 0.15, 0.15, 0.3, 0.3;
  record.covariance = MatrixXd((sure * sigma).array().square().matrix().asDiagonal());
  return record;
}

inline BoardPlacement flat_at(double x_mm, double y_mm, double angle_deg) {
  return {.x_mm = x_mm, .y_mm = y_mm, .angle_deg = angle_deg, .height_mm = kBoardHeight_mm};
}

// The bed seen by overhead_camera reaches from some -100 to 460 mm across and from -10 to 410 mm along.
inline const std::vector<BoardPlacement> kFlatPlaces = {flat_at(20, 40, 0), flat_at(380, 190, 90),
                                                        flat_at(140, 370, -90)};

// The board carried by `moved` from where it lies flat, its squares `scale` times as large as declared.
inline FlatBoardPhoto flat_photo(const Camera& camera, const std::string& file, const BoardPlacement& where,
                                 const Rigid& moved = {}, double scale = 1.0) {
  FlatBoardPhoto photo{file, camera.lens.width_px, camera.lens.height_px, {kBoard, {}, {}, 0.0, {}, true}};
  for (int j = 0; j < kBoard.corner_count(); ++j) {
    const Vector3d mm = scale * kBoard.corner_mm(j % 9, j / 9);
    photo.corners.px.push_back(*project_bed_point(camera, bed_from_board(where) * (moved * mm)));
    photo.corners.sigma_px.push_back(0.05);
  }
  return photo;
}

// flat0.jpg, flat1.jpg, flat2.jpg.
inline std::vector<FlatBoardPhoto> flat_photos(const Camera& camera, double scale = 1.0) {
  std::vector<FlatBoardPhoto> photos;
  photos.reserve(kFlatPlaces.size());
  for (const BoardPlacement& where : kFlatPlaces)
    photos.push_back(flat_photo(camera, "flat" + std::to_string(photos.size()) + ".jpg", where, {}, scale));
  return photos;
}

}  // namespace jigtrue::synthetic
