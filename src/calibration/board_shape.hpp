// Whether photos show that the printed sheet is not flat or not square, and saying so. Internal.
#pragma once
#include "jigtrue/calibration/lens_fit.hpp"

#include <string>
#include <vector>

#include "calibration/bundle.hpp"

namespace jigtrue {

// `shared`: covariance of the free lens parameters, then of the three of the shape.
[[nodiscard]] BoardShapeFit board_shape_fit(const bundle::BoardShape& shape, const MatrixXd& shared,
                                            const std::vector<int>& free_lens, Eigen::Index lens_count);

// One of the three numbers is beyond chance and large enough to matter.
[[nodiscard]] bool shape_shows(const BoardShapeFit& shape);

// One whole sentence for each number that shows: what, by how much, what to do.
[[nodiscard]] std::vector<std::string> shape_notes(const BoardShapeFit& shape);

// A board's points in the shape that it has; the points' own extent gives the scale of the bow.
[[nodiscard]] std::vector<SeenPoint> in_shape(const std::vector<SeenPoint>& points, const bundle::BoardShape& shape);

}  // namespace jigtrue
