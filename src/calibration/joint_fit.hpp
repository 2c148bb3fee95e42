// Marks and boards fitted together by least squares, with what the fit leaves open. Internal.
#pragma once
#include <optional>

#include "calibration/joint_equations.hpp"

namespace jigtrue {

// A fit with what is left open: by errors of marks and corners, and by what is known.
struct JointFit {
  JointState state;
  JointEquations marks;
  JointEquations boards;
  MatrixXd inverse;          // of the normal matrix
  MatrixXd by_errors;        // covariance of the unknowns
  MatrixXd by_known;         // d unknowns / d known
  double marks_scale = 1.0;  // variances found over foreseen, at least 1
  double boards_scale = 1.0;
};

// The marks by themselves. Nothing where they do not determine the camera's place.
[[nodiscard]] std::optional<JointFit> fit_marks(JointTask task, const JointState& start);

// Marks or boards that scatter more than foreseen count for less.
[[nodiscard]] std::optional<JointFit> fit_all(JointTask task, const JointState& start);

// Joint, of [lens, camera_from_bed].
[[nodiscard]] MatrixXd camera_covariance(const JointTask& task, const JointFit& fit);

// Covariance of `many` unknowns from `at` on, what is known and what the model misses the lens by included.
[[nodiscard]] MatrixXd covariance_of(const JointTask& task, const JointFit& fit, Eigen::Index at, Eigen::Index many);

}  // namespace jigtrue
