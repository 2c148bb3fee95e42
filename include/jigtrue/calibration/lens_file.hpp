// lens.json: a fitted lens with what it was fitted from.
#pragma once
#include "jigtrue/calibration/lens_fit.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// A compared model's error on photos that took no part in its fit: distance, rms per corner.
struct ModelHeldOut {
  LensModel model = LensModel::radial5;
  double px = 0.0;
};

// What later steps need of a lens file.
struct LensRecord {
  Lens lens;
  MatrixXd covariance;                 // of lens.parameters
  double rms_px = 0.0;                 // distance, per corner
  double sigma0_px = 0.0;              // one axis
  double noise_px = 0.0;               // one axis, of a corner for itself
  double together_px = 0.0;            // one axis, what neighbouring corners of a photo err together
  double model_error_px = 0.0;         // distance
  std::vector<ModelHeldOut> held_out;  // of the models that could be tried on left-out photos
  BoardSpec board;                     // that its photos showed; no counts in a file that says nothing of it
  // The sheet's shape where its photos showed one: the pose allows for it when it sees that board again.
  std::optional<BoardShapeFit> board_shape;
  int orientation = 0;  // tag of the photos that the lens's picture lies like; 0 in a file that says nothing of it
  std::optional<double> focal_mm;  // that its photos say they were taken at (Photo::focal_mm)
  std::string created;
  std::string json;  // the whole file, to be carried along in camera.json
};

struct LensFileNotes {
  BoardSpec board;
  std::string created;   // date and time, as the caller gives it
  std::string software;  // name and version
  int orientation = 0;   // as LensRecord::orientation
  std::optional<double> focal_mm = std::nullopt;
};

// The file's text. Parameters and covariance are written so that reading gives the same doubles.
[[nodiscard]] std::string lens_json(const LensFit& fit, const LensFitOptions& options, const LensFileNotes& notes);

// Throws InputError naming file, field, value and remedy: not JSON, another schema, a missing or non-finite number, a
// size that does not fit, a covariance that is not one.
[[nodiscard]] LensRecord read_lens_json(const std::string& json_text, const std::string& file_name);

// What a lens was fitted from, as the file keeps it (corners to 0.0001 px): fitting it again gives the same lens.
struct LensInputs {
  std::vector<LensPhoto> photos;
  LensFitOptions options;
  BoardSpec board;
  int orientation = 0;
  std::optional<double> focal_mm;
};
// From a lens file, or the lens inside a camera file. Throws as read_lens_json does, and when the file keeps no
// corners.
[[nodiscard]] LensInputs read_lens_inputs(const std::string& json_text, const std::string& file_name);

// The record that read_lens_json would give of lens_json's text.
[[nodiscard]] LensRecord lens_record(const LensFit& fit, const LensFitOptions& options, const LensFileNotes& notes);

}  // namespace jigtrue
