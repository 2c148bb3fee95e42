// Marks that a machine has burned and boards lying flat at unknown places of the same bed, seen by one camera: what is
// fitted to them together, and the equations of it. Internal.
#pragma once
#include <optional>
#include <vector>

#include "calibration/burned_equations.hpp"
#include "calibration/flat_boards.hpp"

namespace jigtrue {

struct JointState {
  BurnedState marks;
  double stretch = 0.0;  // of the boards' millimetres against the marks'
  std::vector<BoardPlace> places;
};

// What is fitted, and where each unknown stands among them: pose (6), the machine's two figures (2, if at all), the
// boards' scale (1), three of each board.
struct JointTask {
  const LensRecord* lens = nullptr;
  std::vector<PlacedMark> marks;  // sigma_px with the machine's share
  std::vector<BoardPoints> boards;
  double height_mm = 0.0;
  bool with_machine = false;
  [[nodiscard]] Eigen::Index from_marks() const { return with_machine ? kBurnedUnknowns : 6; }
  [[nodiscard]] Eigen::Index scale_at() const { return from_marks(); }
  [[nodiscard]] Eigen::Index place_at(std::size_t i) const {
    return from_marks() + 1 + 3 * static_cast<Eigen::Index>(i);
  }
  [[nodiscard]] Eigen::Index unknowns() const { return place_at(boards.size()); }
  [[nodiscard]] bool shaped() const { return !boards.empty() && !boards.front().by_shape.empty(); }
};

// Predicted less seen, and what moves it. Known: the lens's parameters, then the sheet's shape.
struct JointEquations {
  VectorXd residual;
  MatrixXd by_state;
  MatrixXd by_known;
};

[[nodiscard]] JointState moved(const JointTask& task, const JointState& from, const VectorXd& step);

// Nothing where marks or corners do not lie before the camera.
[[nodiscard]] std::optional<JointEquations> mark_equations(const JointTask& task, const JointState& at);
// All boards' rows one below the other; of each board x of every corner, then y.
[[nodiscard]] std::optional<JointEquations> board_equations(const JointTask& task, const JointState& at);

// Of the boards' corners, px^2: `noise` what each photo errs by itself; `weighed` also what the model misses the lens
// by, and what the uncertainty of lens and sheet moves the boards by against where the marks have put the bed.
struct BoardErrors {
  MatrixXd noise;
  MatrixXd weighed;
};
[[nodiscard]] BoardErrors board_errors(const JointTask& task, const JointEquations& boards,
                                       const MatrixXd& pose_by_known);

}  // namespace jigtrue
