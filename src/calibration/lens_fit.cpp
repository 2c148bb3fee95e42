#include "jigtrue/calibration/lens_fit.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "calibration/board_shape.hpp"
#include "calibration/choose_in_shape.hpp"
#include "calibration/choose_lens.hpp"
#include "calibration/lens_notes.hpp"
#include "calibration/model_error.hpp"
#include "calibration/more_photos.hpp"

namespace jigtrue {

namespace {

// Lens parameters that were held fixed have no variance.
MatrixXd spread_out(const MatrixXd& of_free, const std::vector<int>& free, Eigen::Index count) {
  MatrixXd all = MatrixXd::Zero(count, count);
  for (std::size_t i = 0; i < free.size(); ++i) {
    for (std::size_t j = 0; j < free.size(); ++j) {
      all(free[i], free[j]) = of_free(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
    }
  }
  return all;
}

std::vector<Residual> residuals_of(const LensFit& fit) {
  std::vector<Residual> residuals;
  for (std::size_t i = 0; i < fit.photos.size(); ++i) {
    const PhotoFit& photo = fit.photos[i];
    for (std::size_t j = 0; photo.used && j < photo.points.size(); ++j) {
      if (photo.point_used[j]) residuals.push_back({i, photo.points[j].px, photo.residuals_px[j]});
    }
  }
  return residuals;
}

double covered_share(const std::vector<PhotoFit>& photos, int width_px, int height_px) {
  std::set<int> fields;
  for (const PhotoFit& photo : photos) {
    for (std::size_t j = 0; photo.used && j < photo.points.size(); ++j) {
      if (!photo.point_used[j]) continue;
      const int column = std::clamp(static_cast<int>((photo.points[j].px.x() + 0.5) * 8 / width_px), 0, 7);
      const int row = std::clamp(static_cast<int>((photo.points[j].px.y() + 0.5) * 6 / height_px), 0, 5);
      fields.insert(row * 8 + column);
    }
  }
  return static_cast<double>(fields.size()) / 48.0;
}

void describe_photos(LensFit& result, const ModelFit& fit, const std::vector<bundle::View>& views,
                     const std::vector<LensView>& named, const Screening& screening) {
  for (std::size_t i = 0; i < views.size(); ++i) {
    PhotoFit photo;
    photo.file = named[i].file;
    photo.points = views[i].points;
    photo.point_used = views[i].used;
    photo.reason = reason_of(screening.verdict[i]);
    photo.used = views[i].used_count() > 0;
    if (fit.has_pose[i]) {
      photo.camera_from_board = fit.state.poses[i];
      photo.residuals_px = bundle::residuals_px(fit.state, result.lens, views[i], i);
    }
    double sum = 0.0;
    double n = 0.0;
    for (std::size_t j = 0; j < photo.residuals_px.size(); ++j) {
      if (photo.used && !photo.point_used[j]) continue;
      if (!photo.residuals_px[j].allFinite()) continue;
      sum += photo.residuals_px[j].squaredNorm();
      n += 1.0;
    }
    photo.rms_px = n > 0.0 ? std::sqrt(sum / n) : 0.0;
    if (photo.used) {
      result.corner_count += static_cast<int>(views[i].used_count());
      result.outlier_count += static_cast<int>(views[i].points.size() - views[i].used_count());
    }
    result.photos.push_back(std::move(photo));
  }
}

// The choice, in the sheet's own shape where the photos show that it has one; whether they do.
std::pair<Choice, bool> choose_with_shape(const std::vector<LensView>& named, int width_px, int height_px,
                                          const LensFitOptions& options) {
  Choice flat = choose_lens(named, width_px, height_px, options);
  if (options.fit_board_shape || !options.judge_board_shape) return {std::move(flat), options.fit_board_shape};
  const auto shape = shape_that_shows(flat);
  if (!shape) return {std::move(flat), false};
  std::optional<Choice> shaped = choose_in_shape(flat, *shape, named, width_px, height_px, options);
  if (!shaped) return {std::move(flat), false};
  return {std::move(*shaped), true};
}

// Fills what the fit is known to: noise, covariances, how far the photos contradict each other. Throws InputError when
// they do not determine the lens.
SharedFit judge_fit(const ModelFit& fit, const std::vector<bundle::View>& views, bool free_board, LensFit& result) {
  bundle::Settings settings;
  settings.free_lens = fit.free_lens;
  settings.free_board = free_board;
  const std::optional<ArrowSystem> normal = bundle::linearise(fit.state, views, settings);
  const std::optional<MatrixXd> inverse = normal ? inverse_shared(*normal) : std::nullopt;
  const double unknowns =
      static_cast<double>(normal ? normal->shared.rows() : 0) + 6.0 * static_cast<double>(count_used(views));
  const double freedom = 2.0 * result.corner_count - unknowns;
  const std::vector<FittedView> fitted =
      inverse && freedom > 0.0 ? fitted_views(fit, views, settings) : std::vector<FittedView>{};
  if (fitted.empty()) throw input_error("lens", "the photos do not determine the lens", kMorePhotos);
  result.sigma0_px = std::sqrt(normal->cost / freedom);
  SharedFit shared = judge_shared(fitted, *inverse, bundle::expectation(fit.state, settings));
  result.noise_px = shared.noise.alone_px;
  result.together_px = shared.noise.together_px;
  result.disagreement = shared.disagreement;
  result.independent_corners = shared.share_independent * result.corner_count;
  const Eigen::Index lens_count = result.lens.parameters.size();
  result.covariance = spread_out(shared.covariance, fit.free_lens, lens_count);
  result.white_covariance = spread_out(result.sigma0_px * result.sigma0_px * *inverse, fit.free_lens, lens_count);
  return shared;
}

// What the model misses the lens by, as left-out photos, other models and what all photos have in common say.
void judge_model(const Choice& choice, const SharedFit& shared, LensFit& result) {
  // of independent corners whose lens would be as unsure
  const double as_independent_px = result.sigma0_px / std::sqrt(shared.share_independent);
  result.model_error_px =
      std::max(common_structure_px(residuals_of(result), result.lens.width_px, result.lens.height_px),
               disagreement_px(choice, as_independent_px));
  for (std::size_t i = 0; i < choice.trials.size(); ++i)
    if (const auto& held_out = choice.trials[i].held_out)
      result.trials[i].by_noise_px = held_out->rms_by_noise_px(shared.noise);
  if (const auto& held_out = choice.trials[choice.chosen].held_out)
    result.model_error_px = std::max(result.model_error_px, held_out->excess_px(shared.noise));
}

std::string file_of_used(const std::vector<PhotoFit>& photos, std::size_t index) {
  for (const PhotoFit& photo : photos)
    if (photo.used && index-- == 0) return photo.file;
  return {};
}

}  // namespace

LensFit fit_lens_to_views(const std::vector<LensView>& named, int width_px, int height_px,
                          const LensFitOptions& options) {
  require_enough(named.size(), nullptr, named);
  auto [choice, free_board] = choose_with_shape(named, width_px, height_px, options);
  if (options.model) choice.trials[choice.chosen].shown.remark = "chosen: asked for";
  ModelFit fit = choice.fit();
  if (free_board) {
    Outcome<ModelFit> shaped = fit_model_plainly(fit, choice.views, true);
    if (shaped) fit = std::move(shaped).value();
  }

  LensFit result;
  result.lens = lens_of(fit);
  describe_photos(result, fit, choice.views, named, choice.screening);
  for (const LensTrial& trial : choice.trials) result.trials.push_back(trial.shown);
  result.rms_px = rms_of(fit, choice.views);
  const SharedFit shared = judge_fit(fit, choice.views, free_board, result);
  add_focal_note(result);
  if (free_board) {
    result.board_shape =
        board_shape_fit(fit.state.board, shared.covariance, fit.free_lens, result.lens.parameters.size());
    for (std::string& note : shape_notes(*result.board_shape)) result.notes.push_back(std::move(note));
  }
  judge_model(choice, shared, result);
  result.coverage = covered_share(result.photos, width_px, height_px);
  result.reaches_corners = reaches_whole_picture(result.lens);
  add_photo_notes(result, count_used(choice.views));
  add_contradiction_note(result, file_of_used(result.photos, shared.most_contrary));
  return result;
}

}  // namespace jigtrue
