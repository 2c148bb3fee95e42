// Photos of a checkerboard -> a lens, its covariance, and what a person should know about them.
//
// The lens and one pose a photo are fitted together by least squares on the corners' positions (Zhang, PAMI 22(11)
// 2000; Triggs et al., "Bundle adjustment: a modern synthesis", 2000). Poor photos and corners are found by a robust
// first fit and left out with a reason. Corners weigh by their own sigma beside what all have in common. Among the
// models, the choice falls on held-out photos: the smallest model whose error there is within one standard error of the
// best (Breiman et al. 1984, ch. 3.4.3).
#pragma once
#include "jigtrue/base/outcome.hpp"
#include "jigtrue/calibration/view_pose.hpp"
#include "jigtrue/camera/lens.hpp"
#include "jigtrue/geometry/rigid.hpp"
#include "jigtrue/image/board.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// One photo as it was read: its corners, or why there are none.
struct LensPhoto {
  std::string file;
  int width_px = 0;
  int height_px = 0;
  Outcome<BoardCorners> corners = Failure{"not looked at"};
  int orientation = 1;                  // the tag that was applied to it
  std::optional<double> focal_mm = {};  // Photo::focal_mm
};

struct LensFitOptions {
  std::optional<LensModel> model;             // fixed by the user; otherwise chosen
  bool fit_board_shape = false;               // stretch and bow of the print as three more parameters, always
  bool judge_board_shape = false;             // the same where the photos show them; notes say so in words
  bool leave_out_corners = true;              // single corners that lie far out; whole photos always are
  std::vector<std::string> fixed_parameters;  // names (parameter_names) of distortion terms held at 0
};

// How the printed sheet differs from its nominal shape, the squares' size being that along x (the long side).
// Stretch: (true y / true x) / nominal - 1. Bow: height of the middle over the outermost corners, towards the camera,
// along x and along y, mm.
struct BoardShapeFit {
  double stretch = 0.0;
  double bow_x_mm = 0.0;
  double bow_y_mm = 0.0;
  Vector3d sigma = Vector3d::Zero();
  Matrix3d covariance = Matrix3d::Zero();
  Eigen::Matrix<double, 3, Eigen::Dynamic> with_lens;  // covariance with lens.parameters
};

struct PhotoFit {
  std::string file;
  bool used = false;
  std::string reason;             // in words, when not used
  std::vector<SeenPoint> points;  // board frame; empty when no board was found
  std::vector<char> point_used;
  std::vector<Vector2d> residuals_px;  // seen less predicted, of every point; empty when no pose fits them
  Rigid camera_from_board;
  double rms_px = 0.0;  // of the used points; of all of them when the photo is not used; 0 without residuals
};

struct ModelTrial {
  LensModel model = LensModel::radial5;
  bool fitted = false;
  double rms_px = 0.0;          // root mean square of the distance, per corner
  double held_out_px = 0.0;     // the same on photos that took no part, half a board predicted from the other half
  double by_noise_px = 0.0;     // what of held_out_px the corners' noise explains, through a perfect lens
  double held_out_ratio = 1.0;  // typical ratio to the best model's, and its standard error
  double held_out_ratio_se = 0.0;
  std::string remark;  // why rejected, passed over or chosen; in words
};

// Uncertainty is kept in two parts. What comes of the corners' errors (sampling): `covariance`, in which corners of one
// photo err partly together and which photos that contradict each other widen. What the model misses the lens by,
// however many photos (model error): `model_error_px`, the largest of what the photos' residuals have in common in the
// picture, what the models that left-out photos do not speak against make of them otherwise, and what noise does not
// explain of the error on them.
struct LensFit {
  Lens lens;
  MatrixXd covariance;               // of lens.parameters
  MatrixXd white_covariance;         // sigma0_px^2 times the inverse normal matrix: if every corner erred for itself
  double rms_px = 0.0;               // root mean square of the distance, per corner, over the photos used
  double sigma0_px = 0.0;            // one axis: sqrt(sum of squares / (2 n - parameters))
  double noise_px = 0.0;             // one axis: of a corner for itself
  double together_px = 0.0;          // one axis: what neighbouring corners of a photo err together
  double independent_corners = 0.0;  // that would tell as much as those used do
  double disagreement = 1.0;         // of the photos with each other, against what their corners' errors explain
  double model_error_px = 0.0;       // distance
  double coverage = 0.0;             // share of the picture's 8 x 6 fields that hold a used corner
  bool reaches_corners = false;      // the lens's domain covers the whole picture
  int corner_count = 0;              // used
  int outlier_count = 0;             // corners left out of used photos
  std::vector<PhotoFit> photos;      // in the order given
  std::vector<ModelTrial> trials;
  std::optional<BoardShapeFit> board_shape;  // taken into account in all of the above
  std::vector<std::string> notes;            // whole sentences for the user
};

// Throws InputError when there are fewer than three usable photos, when they do not determine the lens (all boards
// parallel to the picture), or when no model fits; the message says what to do.
[[nodiscard]] LensFit fit_lens(const std::vector<LensPhoto>& photos, const LensFitOptions& options = {});

// The same from points alone: any flat target, z = 0.
struct LensView {
  std::string file;
  std::vector<SeenPoint> points = {};
  bool whole = true;  // its points span the whole target: the sheet's shape, where one is fitted, is known there
};
[[nodiscard]] LensFit fit_lens_to_views(const std::vector<LensView>& views, int width_px, int height_px,
                                        const LensFitOptions& options = {});

}  // namespace jigtrue
