// Boards seen through a known lens, with noise of a known size: the truth that fits are checked against.
#pragma once
#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/calibration/lens_fit.hpp"
#include "jigtrue/camera/camera.hpp"

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

namespace jigtrue::synthetic {

inline VectorXd vector(const std::vector<double>& values) {
  return Eigen::Map<const VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()));
}

inline Lens barrel_lens() {
  return make_lens(LensModel::radial5, 1600, 1200, vector({1350, 1352, 812, 588, -0.21, 0.06, 0.0012, -0.0008, 0.01}));
}
inline Lens wide_lens() {
  return make_lens(LensModel::equidistant4, 1600, 1200, vector({620, 621, 790, 610, -0.02, 0.004, -0.003, 0.001}));
}
inline Lens rational_lens() {
  return make_lens(LensModel::rational8, 1600, 1200,
                   vector({1150, 1151, 805, 597, 0.9, 0.2, 0.0004, -0.0003, 0.01, 1.2, 0.45, 0.06}));
}

// 480 mm above (180, 200), leaning by some degrees.
inline Camera overhead_camera(const Lens& lens) {
  Matrix3d down;
  down << 1, 0, 0, 0, -1, 0, 0, 0, -1;
  Rigid pose;
  pose.rotation = rotation_from_vector({0.06, 0.09, -0.3}) * down;
  pose.translation = -(pose.rotation * Vector3d(180, 200, 480));
  return {lens, pose, {}};
}

inline constexpr BoardSpec kBoard{10, 7, 25.0};

struct Scene {
  std::vector<LensPhoto> photos;
  std::vector<Rigid> camera_from_board;
};

// Boards in hand: aimed at places all over the picture, tilted every way, near enough to fill a third of it.
inline Scene make_scene(const Lens& lens, int count, double noise_px, unsigned seed, double tilt_rad = 0.45) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> unit(-1.0, 1.0);
  std::normal_distribution<double> normal(0.0, 1.0);
  Scene scene;
  while (static_cast<int>(scene.photos.size()) < count) {
    const Vector2d aim(lens.width_px * (0.5 + 0.33 * unit(random)), lens.height_px * (0.5 + 0.33 * unit(random)));
    const double tilt_x = tilt_rad * unit(random);
    const double tilt_y = tilt_rad * unit(random);
    const double turn = kPi * unit(random);
    const double distance = 330.0 * (1.0 + 0.25 * unit(random)) * lens.focal_px().mean() / 1000.0 + 120.0;
    const auto sight = unproject(lens, aim);
    if (!sight) continue;
    // the face looks back along the sight ray, then leans
    const Matrix3d face = shortest_turn(Vector3d::UnitZ(), -*sight);
    Rigid pose;
    pose.rotation = face * rotation_from_vector({tilt_x, tilt_y, 0.0}) * rotation_from_vector({0.0, 0.0, turn});
    const Vector3d middle(0.5 * kBoard.columns * kBoard.square_mm, 0.5 * kBoard.rows * kBoard.square_mm, 0.0);
    pose.translation = *sight * distance - pose.rotation * middle;
    BoardCorners corners;
    corners.board = kBoard;
    bool inside = true;
    for (int row = 0; row < kBoard.inner_rows(); ++row) {
      for (int column = 0; column < kBoard.inner_columns(); ++column) {
        const auto px = project(lens, pose * kBoard.corner_mm(column, row));
        inside =
            inside && px && px->x() > 3 && px->y() > 3 && px->x() < lens.width_px - 4 && px->y() < lens.height_px - 4;
        if (!inside) break;
        corners.px.emplace_back(*px + noise_px * Vector2d(normal(random), normal(random)));
        corners.sigma_px.push_back(std::max(noise_px, 0.01));
      }
    }
    if (!inside) continue;
    LensPhoto photo;
    photo.file = "photo" + std::to_string(scene.photos.size()) + ".jpg";
    photo.width_px = lens.width_px;
    photo.height_px = lens.height_px;
    photo.corners = corners;
    scene.photos.push_back(photo);
    scene.camera_from_board.push_back(pose);
  }
  return scene;
}

// The same poses with other noise.
inline std::vector<LensPhoto> with_noise(const Lens& lens, const Scene& scene, double noise_px, std::mt19937& random) {
  std::normal_distribution<double> normal(0.0, noise_px);
  std::vector<LensPhoto> photos = scene.photos;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    BoardCorners& corners = photos[i].corners.value();
    for (std::size_t j = 0; j < corners.px.size(); ++j) {
      const int columns = kBoard.inner_columns();
      const Vector3d mm = kBoard.corner_mm(static_cast<int>(j) % columns, static_cast<int>(j) / columns);
      corners.px[j] = *project(lens, scene.camera_from_board[i] * mm) + Vector2d(normal(random), normal(random));
    }
  }
  return photos;
}

// Corner errors of a photo that are partly shared: each corner's own, and a smooth field over the board that fades with
// distance as exp(-d^2 / (2 reach^2)), reach a quarter of the board's longer side. One axis, px.
struct SharedErrors {
  double alone_px = 0.0;
  double together_px = 0.0;
};
class ErrorSource {
 public:
  explicit ErrorSource(const SharedErrors& size) : size_(size) {
    constexpr int kCorners = 54;
    const double reach = 0.25 * 8.0 * kBoard.square_mm;
    MatrixXd kin = MatrixXd::Identity(kCorners, kCorners) * 1e-9;  // rounding would make it indefinite
    for (int i = 0; i < kCorners; ++i)
      for (int j = 0; j < kCorners; ++j) {
        const double d = (kBoard.corner_mm(i % 9, i / 9) - kBoard.corner_mm(j % 9, j / 9)).norm();
        kin(i, j) += std::exp(-0.5 * d * d / (reach * reach));
      }
    root_ = cholesky_factor(kin).value();
  }
  // Adds the errors of one photo to corners that are where they belong.
  void add(std::vector<Vector2d>& px, std::mt19937_64& random) const {
    std::normal_distribution<double> normal;
    Eigen::Matrix<double, Eigen::Dynamic, 2> smooth(root_.rows(), 2);
    for (Eigen::Index i = 0; i < smooth.rows(); ++i) smooth.row(i) << normal(random), normal(random);
    smooth = (root_ * smooth).eval();
    for (std::size_t i = 0; i < px.size(); ++i)
      px[i] += size_.together_px * smooth.row(static_cast<Eigen::Index>(i)).transpose() +
               size_.alone_px * Vector2d(normal(random), normal(random));
  }
  // A scene without noise, photographed.
  [[nodiscard]] std::vector<LensPhoto> photos(const Scene& scene, std::mt19937_64& random) const {
    std::vector<LensPhoto> photos = scene.photos;
    for (LensPhoto& photo : photos) add(photo.corners.value().px, random);
    return photos;
  }

 private:
  SharedErrors size_;
  MatrixXd root_;
};

// How a printed sheet differs from its nominal shape: its middle stands bow_mm over the ends of its long side, and the
// long side is printed short by this share.
struct SheetFault {
  double bow_mm = 0.0;
  double long_side_short = 0.0;
};
// The scene's photos as a lens sees such a sheet, without errors.
inline void photograph_sheet(Scene& scene, const Lens& lens, const SheetFault& fault) {
  for (std::size_t i = 0; i < scene.photos.size(); ++i) {
    BoardCorners& corners = scene.photos[i].corners.value();
    for (int j = 0; j < 54; ++j) {
      Vector3d mm = kBoard.corner_mm(j % 9, j / 9);
      const double u = (j % 9 - 4.0) / 4.0;
      mm.z() += fault.bow_mm * (1.0 - u * u);
      mm.x() *= 1.0 - fault.long_side_short;
      corners.px[static_cast<std::size_t>(j)] = *project(lens, scene.camera_from_board[i] * mm);
    }
  }
}

// Largest distance between two lenses' pictures of the same rays, after the turn between them that a pose would take up
// has been removed: over the part of the picture that the boards covered.
inline double largest_difference_px(const Lens& truth, const Lens& fitted, double margin = 0.12) {
  std::vector<SeenPoint> points;
  for (int i = 0; i <= 16; ++i) {
    for (int j = 0; j <= 12; ++j) {
      const Vector2d px(truth.width_px * (margin + (1.0 - 2.0 * margin) * i / 16),
                        truth.height_px * (margin + (1.0 - 2.0 * margin) * j / 12));
      points.push_back({*unproject(truth, px) * 500.0, px, 1.0});
    }
  }
  const auto pose = refine_pose(fitted, points, Rigid{});
  if (!pose) return 1e9;
  double largest = 0.0;
  for (const Vector2d& r : pose->residuals_px) largest = std::max(largest, r.norm());
  return largest;
}

}  // namespace jigtrue::synthetic
