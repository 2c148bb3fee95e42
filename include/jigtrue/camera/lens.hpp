// Lens models: sight ray in the camera frame <-> image position in px.
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/geometry/types.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// radial2:      pinhole, radial k1 k2 (Zhang, PAMI 22(11) 2000): what few photos can tell
// radial5:      pinhole, radial-tangential (Brown 1966; Conrady 1919); distortion k1 k2 p1 p2 k3 (OpenCV's order)
// rational8:    pinhole, rational radial and tangential (Claus & Fitzgibbon 2005 in spirit); k1 k2 p1 p2 k3 k4 k5 k6
// equidistant4: r = f (theta + k1 theta^3 + k2 theta^5 + k3 theta^7 + k4 theta^9) (Kannala & Brandt, PAMI 28(8) 2006)
enum class LensModel { radial2, radial5, rational8, equidistant4 };
[[nodiscard]] const char* to_string(LensModel model);
[[nodiscard]] std::optional<LensModel> lens_model_from_string(const std::string& name);
[[nodiscard]] int distortion_count(LensModel model);
// "fx", "fy", "cx", "cy", then the distortion's, in the order of Lens::parameters.
[[nodiscard]] std::vector<std::string> parameter_names(LensModel model);

// fx fy cx cy and the longest distortion: sizes the Jacobians, which therefore never ask for memory.
inline constexpr int kMaxLensParameters = 12;
using LensJacobian2 = Eigen::Matrix<double, 2, Eigen::Dynamic, Eigen::ColMajor, 2, kMaxLensParameters>;
using LensJacobian3 = Eigen::Matrix<double, 3, Eigen::Dynamic, Eigen::ColMajor, 3, kMaxLensParameters>;

// parameters: fx fy cx cy, then the distortion. A value type: copy freely.
struct Lens {
  LensModel model = LensModel::radial5;
  int width_px = 0;
  int height_px = 0;
  VectorXd parameters;
  // The largest angle off the axis for which the map is one to one (radius grows with angle, denominator positive, no
  // fold in any direction); positions and rays beyond it are refused. Set by make_lens.
  double max_theta_rad = 0.0;

  [[nodiscard]] Vector2d focal_px() const { return parameters.head<2>(); }
  [[nodiscard]] Vector2d principal_px() const { return parameters.segment<2>(2); }
};

// Computes the domain. Throws InputError for a wrong parameter count, non-finite or non-positive focal lengths, or a
// map that folds inside the circle about the principal point whose radius is half the picture's shorter side (nothing
// could be measured with it).
[[nodiscard]] Lens make_lens(LensModel model, int width_px, int height_px, const VectorXd& parameters);
// The same as an outcome, for a search that tries parameters.
[[nodiscard]] Outcome<Lens> try_make_lens(LensModel model, int width_px, int height_px, const VectorXd& parameters);

struct Projection {
  Vector2d px;
  Eigen::Matrix<double, 2, 3> by_point;  // d px / d point (camera frame, mm)
  LensJacobian2 by_parameters;           // d px / d lens parameters; filled only when asked for
};

// Nothing when the point lies outside the domain (behind the camera for pinhole models, beyond max_theta_rad).
[[nodiscard]] std::optional<Vector2d> project(const Lens& lens, const Vector3d& point_camera);
enum class LensJacobian { no, yes };
[[nodiscard]] std::optional<Projection> project_with_jacobian(const Lens& lens, const Vector3d& point_camera,
                                                              LensJacobian by_parameters = LensJacobian::no);

struct Unprojection {
  Vector3d ray;                       // unit length, camera frame
  Eigen::Matrix<double, 3, 2> by_px;  // d ray / d px
  LensJacobian3 by_parameters;        // at fixed px; filled only when asked for
};

// Nothing when the position lies outside the domain's image. Newton's iteration, checked by reprojection to 1e-9 px.
[[nodiscard]] std::optional<Vector3d> unproject(const Lens& lens, const Vector2d& px);
[[nodiscard]] std::optional<Unprojection> unproject_with_jacobian(const Lens& lens, const Vector2d& px,
                                                                  LensJacobian by_parameters = LensJacobian::no);

}  // namespace jigtrue
