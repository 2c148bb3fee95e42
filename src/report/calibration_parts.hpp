// What the two calibration pages share.
#pragma once
#include "jigtrue/calibration/map_uncertainty.hpp"
#include "jigtrue/report/calibration_page.hpp"

#include <string>
#include <vector>

namespace jigtrue::page {

// Style of the plots; follows base_style().
[[nodiscard]] std::string plot_style();
inline constexpr double kPlotWide = 600.0;  // every plot, in its own units
// A place or length in a plot.
[[nodiscard]] std::string coordinate(double value);

[[nodiscard]] std::string origin_line(const CalibrationPageNotes& notes);
[[nodiscard]] std::string note_list(const std::vector<std::string>& notes);  // empty when there are none
[[nodiscard]] std::string footer(const CalibrationPageNotes& notes);

// A row of a table of names and numbers; value and remark are markup.
[[nodiscard]] std::string fact(const std::string& name, const std::string& value, const std::string& remark);

// Corners and how far from the prediction each was seen.
struct ResidualSet {
  int width_px = 0;
  int height_px = 0;
  std::vector<Vector2d> px;
  std::vector<Vector2d> residuals_px;  // seen less predicted
};
// The picture's frame with a line from each corner to where it was seen, magnified; the legend says by how much.
[[nodiscard]] std::string residual_arrows(const ResidualSet& set);
// The outward part of each residual against its distance from the lens's axis, with means over rings.
[[nodiscard]] std::string residual_by_radius(const ResidualSet& set, const Vector2d& axis_px);

}  // namespace jigtrue::page
