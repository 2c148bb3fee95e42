// A camera above a bed with marks on it, and pictures of them at exactly known places, drawn through the lens itself.
#pragma once
#include "jigtrue/calibration/camera_file.hpp"

#include <algorithm>
#include <cmath>
#include <random>
#include <vector>

#include "calibration/synthetic.hpp"
#include <opencv2/imgproc.hpp>

namespace jigtrue::synthetic {

// Above (180, 140), looking down, a little aslant, turned by turn_deg about the vertical; move_mm shifts it, bump_deg
// turns it about its own axes.
inline Rigid overhead(double turn_deg = 0.0, const Vector3d& move_mm = Vector3d::Zero(),
                      const Vector3d& bump_deg = Vector3d::Zero()) {
  const Matrix3d down = (Matrix3d() << 1, 0, 0, 0, -1, 0, 0, 0, -1).finished();
  const Vector3d bump = bump_deg * (kPi / 180.0);
  Rigid camera_from_bed;
  camera_from_bed.rotation = rotation_from_vector(bump) * rotation_from_vector({0.12, -0.05, 0.0}) * down *
                             rotation_from_vector({0.0, 0.0, rad_from_deg(turn_deg)});
  camera_from_bed.translation = -(camera_from_bed.rotation * (Vector3d(180.0, 160.0, 620.0) + move_mm));
  return camera_from_bed;
}

inline LensRecord lens_of(const Lens& lens) {
  LensRecord record;
  record.lens = lens;
  record.covariance = MatrixXd::Zero(lens.parameters.size(), lens.parameters.size());
  record.rms_px = 0.1;
  record.sigma0_px = 0.05;
  record.noise_px = 0.05;
  return record;
}

inline CameraRecord camera_record(const Rigid& camera_from_bed) {
  CameraRecord record;
  record.lens = lens_of(barrel_lens());
  record.camera.lens = record.lens.lens;
  record.camera.camera_from_bed = camera_from_bed;
  const auto n = record.lens.lens.parameters.size() + 6;
  record.camera.covariance = MatrixXd::Zero(n, n);
  record.created = "2024-05-01T12:00:00Z";
  return record;
}

struct DrawnMark {
  Vector3d bed_mm = Vector3d::Zero();
  double turn_deg = 0.0;
};

// Marks with fields of 8 mm on white squares of 20 mm, on a grey bed; 6 x 6 samples a pixel on edges, blurred, noisy.
inline cv::Mat1b draw_marks(const Camera& camera, const std::vector<DrawnMark>& marks, std::mt19937& random,
                            double noise = 2.0, double blur_px = 0.9) {
  constexpr int kSteps = 6;
  constexpr double kField = 8.0;
  constexpr double kWhite = 10.0;
  cv::Mat1f picture(camera.lens.height_px, camera.lens.width_px, 95.0F);
  for (const DrawnMark& mark : marks) {
    const auto middle = project_bed_point(camera, mark.bed_mm);
    if (!middle) continue;
    const auto corner = project_bed_point(camera, mark.bed_mm + Vector3d(kWhite * 1.5, 0.0, 0.0));
    const int reach = static_cast<int>((*corner - *middle).norm() * 1.3) + 3;
    const Eigen::Rotation2Dd back(-rad_from_deg(mark.turn_deg));
    for (int y = std::max(0, static_cast<int>(middle->y()) - reach);
         y <= std::min(picture.rows - 1, static_cast<int>(middle->y()) + reach); ++y)
      for (int x = std::max(0, static_cast<int>(middle->x()) - reach);
           x <= std::min(picture.cols - 1, static_cast<int>(middle->x()) + reach); ++x) {
        const auto grey = [&](const Vector2d& px) {
          const auto bed = bed_point_at(camera, px, mark.bed_mm.z());
          if (!bed) return static_cast<double>(picture(y, x));
          const Vector2d p = back * (bed->mm - mark.bed_mm.head<2>());
          const double far = p.cwiseAbs().maxCoeff();
          if (far > kWhite) return static_cast<double>(picture(y, x));
          return far < kField && (p.x() < 0.0) == (p.y() < 0.0) ? 40.0 : 205.0;
        };
        const double here = grey(Vector2d(x, y));
        const bool edge = grey(Vector2d(x - 0.5, y - 0.5)) != here || grey(Vector2d(x + 0.5, y - 0.5)) != here ||
                          grey(Vector2d(x - 0.5, y + 0.5)) != here || grey(Vector2d(x + 0.5, y + 0.5)) != here;
        double sum = here * kSteps * kSteps;
        if (edge) {
          sum = 0.0;
          for (int row = 0; row < kSteps; ++row)
            for (int column = 0; column < kSteps; ++column)
              sum += grey({x - 0.5 + (column + 0.5) / kSteps, y - 0.5 + (row + 0.5) / kSteps});
        }
        picture(y, x) = static_cast<float>(sum / (kSteps * kSteps));
      }
  }
  cv::GaussianBlur(picture, picture, cv::Size(0, 0), blur_px, blur_px, cv::BORDER_REPLICATE);
  std::normal_distribution<double> grain(0.0, noise);
  cv::Mat1b photo(picture.size());
  for (int y = 0; y < photo.rows; ++y)
    for (int x = 0; x < photo.cols; ++x)
      photo(y, x) = cv::saturate_cast<unsigned char>(static_cast<double>(picture(y, x)) + grain(random));
  return photo;
}

}  // namespace jigtrue::synthetic
