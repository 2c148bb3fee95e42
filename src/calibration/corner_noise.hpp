// How far the corners of a photo err alone and how far together, and what that does to whatever is fitted to them.
// Internal.
//
// Neighbouring corners share the paper's waves, the light and the blur, so their errors are not independent. In one
// axis
//   cov(e_i, e_j) = alone^2 [i = j] + together^2 exp(-d_ij^2 / (2 reach^2)),   px^2,
// d the distance on the board, photos independent of each other. Reach is a quarter of the board's longer side: on the
// sample photos of a general library (two cameras) and on Zhang's five views the likelihood is greatest between 0.2 and
// 0.35 of it, and what this foresees of boards left out of the fit comes within 11 % of what is met there, where
// independent errors foresee half (tests/published/calibration_test.cpp). The two variances come from the residuals:
// two quadratic forms of them are set equal to their expectations, which know what the fit has taken up (Rao,
// "Estimation of variance and covariance components: MINQUE theory", J. Multivariate Analysis 1 (1971)). The second
// holds products of different corners only, and each corner's own noise is taken from its residual (White, Econometrica
// 48 (1980)): corners whose weights misjudge them, as on soft photos, would else seem to err together. What corners err
// together is then taken at its expectation, given that it cannot be negative and what is usual.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <cstddef>
#include <vector>

namespace jigtrue {

struct CornerNoise {
  double alone_px = 0.0;     // one axis
  double together_px = 0.0;  // one axis
};

// One photo as it was fitted. Rows: x of every corner, then y of every corner, each times the root of the corner's
// weight: a corner of weight w errs by alone / sqrt(w) for itself.
struct FittedView {
  std::vector<Vector2d> mm;         // on the board
  MatrixXd by_pose;                 // d px / d pose, 2n x 6
  MatrixXd by_shared;               // d px / d what all photos share (lens, board), 2n x m
  VectorXd residual_px;             // 2n
  std::vector<double> root_weight;  // n; empty: all one
};

[[nodiscard]] double reach_mm(const std::vector<Vector2d>& board);
// exp(-d^2 / (2 reach^2)) of every a with every b.
[[nodiscard]] MatrixXd correlation(const std::vector<Vector2d>& a, const std::vector<Vector2d>& b, double reach);
// Of a's corners with b's, in rows that weights have scaled.
[[nodiscard]] MatrixXd weighted(MatrixXd correlation, const std::vector<double>& a_root,
                                const std::vector<double>& b_root);
// correlation * rows, for the rows of x and for those of y.
[[nodiscard]] MatrixXd both_axes(const MatrixXd& correlation, const MatrixXd& rows);

struct SharedFit {
  CornerNoise noise;
  MatrixXd covariance;  // of the shared parameters, by this noise
  // How far photos contradict each other, as a ratio to what the noise lets expect (1). Above 1 the covariance is
  // widened by its square (Birge, Phys. Rev. 40 (1932); the Review of Particle Physics' scale factor).
  double disagreement = 1.0;
  std::size_t most_contrary = 0;   // the view that does so most
  double share_independent = 1.0;  // independent corners that would tell as much, as a share of the corners
};

// inverse: of the whole normal matrix, seen from the shared parameters (unit weights). expectation: what was expected
// of the shared parameters beforehand, as its precision in the normal matrix, with the noise that it was weighed by.
struct Expectation {
  VectorXd precision;  // diagonal; zero where nothing was expected
  double noise_px = 0.0;
};
[[nodiscard]] SharedFit judge_shared(const std::vector<FittedView>& views, const MatrixXd& inverse,
                                     const Expectation& expectation);

// What the photos of a pose share and others account for: the lens, the sheet's shape.
struct HeldFixed {
  MatrixXd px_by;          // d px / d it; the photos' rows one after another
  MatrixXd covariance;     // of it
  double misfit_px = 0.0;  // one axis: what the lens's model misses it by
};

// One pose fitted to photos by plain least squares (by_shared: d px / d pose), each photo's own unknowns along
// (by_pose; 0 columns where it has none). noise: as the lens's photos had it; what corners err alone these photos say
// themselves, and what they err together where theirs shows to be more. Boards that contradict each other by more than
// chance and what is held fixed explain widen both.
struct PoseFromPhotos {
  Eigen::Matrix<double, 6, 6> covariance;
  Eigen::Matrix<double, 6, Eigen::Dynamic> by_px;  // d pose / d what was seen; the photos' rows one after another
};
[[nodiscard]] PoseFromPhotos pose_from_photos(const std::vector<FittedView>& views, const CornerNoise& noise,
                                              const HeldFixed& held = {});

}  // namespace jigtrue
