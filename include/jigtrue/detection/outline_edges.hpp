// The photo's edges along a supposed outline, measured in blocks: a few millimetres of it each.
#pragma once
#include "jigtrue/detection/view.hpp"

#include <array>
#include <optional>
#include <vector>

namespace jigtrue {

struct EdgeBlock {
  OutlinePart part = OutlinePart::left;
  bool rim = false;
  double station_mm = 0.0;
  Vector3d point_mm = Vector3d::Zero();
  Vector2d px = Vector2d::Zero();  // where the outline of the fitted place lies
  Vector2d normal_px = Vector2d::Zero();
  Eigen::Matrix<double, 1, kPlaceParameters> by_place = Eigen::Matrix<double, 1, kPlaceParameters>::Zero();
  EdgeFit edge;                   // position, sigma and misfit ratio: those of the place chosen
  std::vector<EdgePlace> places;  // all places where its edge may lie
  // Luma and chroma a little inside and a little outside the outline it was looked for at, grey levels.
  std::array<double, kChannels> inside{};
  std::array<double, kChannels> outside{};
  std::optional<double> jig_outside;  // the bare jig's luma a little outside, where that is known
  double residual_px = 0.0;           // after the solution
  double weight = 0.0;                // of the robust solution, 0..1 of what its noise alone would give
  bool used = false;
};

// The edges along an outline laid at `place`, as the first round of a fit looks for them.
[[nodiscard]] std::vector<EdgeBlock> edges_along(const View& view, const BlankPlace& place, double range_px);

// A stretch of a side between two stations, in either order.
struct SideStretch {
  OutlinePart part = OutlinePart::left;
  double from_mm = 0.0;
  double to_mm = 0.0;
};
// The edge along each stretch, where nothing need be: for what lies at and beyond a blank's ends. Nothing outside the
// picture, nor where the stretch is too short to tell.
[[nodiscard]] std::vector<std::optional<EdgeFit>> edges_beside(const View& view, const BlankPlace& place,
                                                               const std::vector<SideStretch>& stretches);

}  // namespace jigtrue
