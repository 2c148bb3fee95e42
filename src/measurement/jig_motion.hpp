// How a jig lies in one photo against how it lay in another: registration by what both show beside the slots.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <array>
#include <optional>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue::registration {

// Shift x, shift y (mm), turn (rad), about the slots' common centre.
using Motion = Vector3d;

// One plane of both photos at one scale, its structure alone, and how each pixel moves with the jig.
struct Level {
  cv::Mat1f load;
  cv::Mat1f empty;
  std::array<cv::Mat1f, 3> by_x;  // px for 1 mm, 1 mm, 1 rad
  std::array<cv::Mat1f, 3> by_y;
  cv::Mat1b beside;  // where no slot's blank may lie
  cv::Mat1b of_jig;  // between the slots: there the jig lies, beyond them it may be the bed
  int cell_px = 1;   // of the cells that go either with the jig or with the bed
  double gain = 1.0;
  double noise = 1.0;
  cv::Mat1f at_rest;  // cost of every cell that may be the bed's, the empty photo as it is; of the jig's: infinite

  [[nodiscard]] cv::Mat1f moved(const cv::Mat1f& plane, const Motion& motion, int interpolation) const;
  // Sum over each cell of the truncated squares of (load - gain x moved) / noise, beside the slots.
  [[nodiscard]] cv::Mat1f cell_costs(const cv::Mat1f& moved_empty) const;
  void settle_rest();
  // Each cell goes with the jig or with the bed, whichever fits better; what lies between the slots goes with the jig,
  // or else a jig that has hardly moved would seem to be bed all over, and its motion be anything. Of two motions that
  // fit about as well the lesser one is the likelier.
  [[nodiscard]] double cost(const Motion& motion) const;
};

struct Found {
  Motion motion = Motion::Zero();
  double gain = 1.0;
  Matrix3d covariance = Matrix3d::Zero();
};
// Nothing when the best motion is farther than any that a jig that was put back makes.
[[nodiscard]] std::optional<Found> find_motion(const Level& level);

// Robust, of the values where `where` is set.
[[nodiscard]] double robust_sigma(const cv::Mat1f& values, const cv::Mat1b& where, double least);

}  // namespace jigtrue::registration
