// A mark that was found, as numbers: against its blank and against where it was placed, each with what it is uncertain
// by. What mark and blank share (lens, pose, seat height) counts between them only as far as it differs.
#pragma once
#include "jigtrue/inspection/beam_reading.hpp"

#include <optional>

#include "inspection/mark_task.hpp"

namespace jigtrue {

// Square root of the camera's covariance: its columns are independent causes of one standard deviation each.
[[nodiscard]] MatrixXd causes_of(const Camera& camera);

class MarkNumbers {
 public:
  MarkNumbers(const Camera& camera, const MatrixXd& causes, const MarkTask& task, const InspectOptions& options);

  void fill(InspectedSlot& out) const;

  [[nodiscard]] std::optional<BeamWitness> witness() const;

 private:
  const MarkTask& task_;
  const FoundMark& match_;
  Vector2d mark_mm_ = Vector2d::Zero();
  double heading_ = 0.0;
  MatrixXd shared_;    // of the mark's place on the bed, by cause
  MatrixXd turned_;    // of the mark's direction on the bed, likewise; rad
  MatrixXd relative_;  // of the mark against its blank
  Vector2d crown_ = Vector2d::Zero();

  [[nodiscard]] Matrix2d frame_rotation() const;
  [[nodiscard]] Matrix2d own_on_bed() const;
  [[nodiscard]] double turn_sigma() const;
  [[nodiscard]] double turn_from_placed() const;
  [[nodiscard]] std::optional<Matrix3d> photo_from_mark() const;
  // 1: as dark all along. Less what the pieces' own noise makes of it.
  [[nodiscard]] std::optional<double> evenness() const;
  void against_blank(InspectedSlot& out) const;
  void against_placed(InspectedSlot& out) const;
};

}  // namespace jigtrue
