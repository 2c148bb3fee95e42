// The uncertainty of the map over the bed, sampled on a grid, and its drawing.
#pragma once
#include "jigtrue/calibration/map_uncertainty.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue::page {

struct BedMap {
  double height_mm = 0.0;
  double cell_mm = 10.0;
  Vector2d low_mm = Vector2d::Zero();  // lower-left corner of the lower-left cell
  int columns = 0;
  int rows = 0;
  std::vector<std::optional<MappedPoint>> cells;  // row by row from the lower left; nothing where it is not seen

  [[nodiscard]] const std::optional<MappedPoint>& at(int column, int row) const {
    return cells[static_cast<std::size_t>(row) * static_cast<std::size_t>(columns) + static_cast<std::size_t>(column)];
  }
  [[nodiscard]] Vector2d centre_mm(int column, int row) const {
    return low_mm + cell_mm * Vector2d(column + 0.5, row + 0.5);
  }
};

// The part of the bed worth drawing: about the points that gave the pose and the witness marks, as far as it is seen.
[[nodiscard]] BedMap sample_bed(const CameraRecord& record, const std::vector<Vector3d>& points_mm, double height_mm);

// Radii of 95 % that the maps show.
enum class BedShare { whole, lens, pose };
[[nodiscard]] double share_radius(const MappedPoint& point, BedShare share);

// Class bounds that suit all the values, at most seven: even steps, or, when the values differ much, some of 1, 1.5, 2,
// 3, 5, 7 times powers of ten.
[[nodiscard]] std::vector<double> class_bounds(std::vector<double> values_mm);

[[nodiscard]] std::string bed_map_picture(const BedMap& map, BedShare share, const std::vector<double>& bounds_mm,
                                          const std::vector<Vector3d>& points_mm, const Vector3d& camera_mm,
                                          const std::string& caption);
[[nodiscard]] std::string class_legend(const std::vector<double>& bounds_mm);

}  // namespace jigtrue::page
