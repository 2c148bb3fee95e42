#include "jigtrue/calibration/lens_fit.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "calibration/board_shape.hpp"
#include "calibration/choose_model.hpp"
#include "calibration/fit_model.hpp"
#include "calibration/format.hpp"
#include "calibration/model_error.hpp"
#include "calibration/screen_views.hpp"

namespace jigtrue {

namespace {

constexpr std::size_t kFewestPhotos = 3;
constexpr int kScreeningRounds = 3;
constexpr std::size_t kManyPhotos = 8;
// Chance alone takes eight photos to 1.4 once in a thousand times (drawn from the model of their errors).
constexpr double kContradiction = 1.5;
// A focal length known to no better than this says that the boards were all held alike: told. What is left open is
// carried along as a covariance, which is right while the map is straight over it; beyond this it states no bound.
constexpr double kWeakFocal = 0.01;
constexpr double kWorstFocal = 0.15;

struct Trial {
  ModelTrial shown;
  std::optional<ModelFit> fit;
  std::optional<HeldOut> held_out;
  bool as_good = false;    // as the best on held-out photos, to within one standard error
  bool not_worse = false;  // to within two: the photos do not speak against it
};

std::size_t count_used(const std::vector<bundle::View>& views) {
  return static_cast<std::size_t>(
      std::count_if(views.begin(), views.end(), [](const bundle::View& v) { return v.used_count() > 0; }));
}

std::vector<bundle::View> keep_screened(const Screening& screening, std::vector<bundle::View> views) {
  for (std::size_t i = 0; i < views.size(); ++i) {
    views[i].used = screening.point_used[i];
    if (screening.verdict[i] != Verdict::used) std::fill(views[i].used.begin(), views[i].used.end(), char{0});
  }
  return views;
}

std::string reason_of(Verdict verdict) {
  switch (verdict) {
    case Verdict::used:
      return {};
    case Verdict::no_view:
      return "its corners fit no view of a flat board through the lens that the other photos show";
    case Verdict::contradicts:
      return "its corners do not lie where the other photos' lens puts them; is the board bent, moving or partly "
             "hidden there?";
    case Verdict::few_corners:
      return "too few of its corners lie where the other photos' lens puts them";
  }
  return {};
}

void require_enough(std::size_t count, const Screening* screening, const std::vector<LensView>& views) {
  if (count >= kFewestPhotos) return;
  std::string why;
  for (std::size_t i = 0; screening != nullptr && i < views.size(); ++i) {
    const std::string reason = reason_of(screening->verdict[i]);
    if (!reason.empty()) why += "; " + views[i].file + ": " + reason;
  }
  throw input_error("lens",
                    format("%zu usable photos of the board, at least %zu are needed", count, kFewestPhotos) + why,
                    "take about 15 that show it in all parts of the picture and tilted in all directions");
}

double rms_of(const ModelFit& fit, const std::vector<bundle::View>& views) {
  double sum = 0.0;
  double n = 0.0;
  for (std::size_t i = 0; i < views.size(); ++i) {
    for (std::size_t j = 0; j < views[i].used.size(); ++j) {
      if (!views[i].used[j]) continue;
      sum += fit.distance_px[i][j] * fit.distance_px[i][j];
      n += 1.0;
    }
  }
  return n > 0.0 ? std::sqrt(sum / n) : 0.0;
}

bool reaches_whole_picture(const Lens& lens) {
  for (int i = 0; i <= 16; ++i) {
    const double x = (lens.width_px - 1.0) * i / 16;
    const double y = (lens.height_px - 1.0) * i / 16;
    for (const Vector2d& px :
         {Vector2d(x, 0.0), Vector2d(x, lens.height_px - 1.0), Vector2d(0.0, y), Vector2d(lens.width_px - 1.0, y)}) {
      if (!unproject(lens, px)) return false;
    }
  }
  return true;
}

Lens lens_of(const ModelFit& fit) {
  return make_lens(fit.state.model, fit.state.width_px, fit.state.height_px, fit.state.lens);
}

std::vector<int> free_parameters(LensModel model, const LensFitOptions& options) {
  const std::vector<std::string> names = parameter_names(model);
  std::vector<int> free;
  for (const int i : bundle::all_lens_parameters(model)) {
    const std::string& name = names[static_cast<std::size_t>(i)];
    const auto& fixed = options.fixed_parameters;
    if (i < 4 || std::find(fixed.begin(), fixed.end(), name) == fixed.end()) free.push_back(i);
  }
  return free;
}

// Robust fits of every model decide together what is left out; plain fits of what remains follow. near: those of the
// same photos on points a little elsewhere, to start from.
Screening fit_photos(std::vector<Trial>& trials, std::vector<bundle::View>& views, const std::vector<LensView>& named,
                     int width_px, int height_px, const LensFitOptions& options, const std::vector<Trial>* near) {
  std::vector<ModelFit> fits;
  const ModelFit* leaner = nullptr;  // of the pinhole models: each goes on from the one with fewer terms
  const ModelFit* other = nullptr;   // of the other family
  for (Trial& trial : trials) {
    const bool pinhole = trial.shown.model != LensModel::equidistant4;
    const ModelFit* start = pinhole ? leaner : nullptr;
    for (std::size_t i = 0; near != nullptr && i < near->size(); ++i)
      if ((*near)[i].shown.model == trial.shown.model && (*near)[i].fit) start = &*(*near)[i].fit;
    Outcome<ModelFit> fit = fit_model_robustly(trial.shown.model, free_parameters(trial.shown.model, options), views,
                                               width_px, height_px, start, pinhole ? other : nullptr);
    if (!fit) {
      trial.shown.remark = "rejected: " + fit.reason();
      continue;
    }
    fits.push_back(*fit);
    trial.fit = std::move(fit).value();
    (pinhole ? leaner : other) = &*trial.fit;
  }
  if (fits.empty()) {
    throw input_error("lens", "no lens model fits these photos",
                      "check that --board counts squares (columns x rows x size) and that the board is flat");
  }
  weigh_points(fits, views);
  const std::vector<bundle::View> all = views;
  Screening screening;
  for (int round = 0; round < kScreeningRounds; ++round) {
    screening = screen_views(fits, all);
    if (!options.leave_out_corners) {
      for (std::vector<char>& used : screening.point_used) std::fill(used.begin(), used.end(), char{1});
    }
    std::vector<bundle::View> kept = keep_screened(screening, all);
    require_enough(count_used(kept), &screening, named);
    bool settled = round > 0;
    for (std::size_t i = 0; i < kept.size(); ++i) settled = settled && kept[i].used == views[i].used;
    views = std::move(kept);
    if (settled) break;
    fits.clear();
    for (Trial& trial : trials) {
      if (!trial.fit) continue;
      Outcome<ModelFit> fit = fit_model_plainly(*trial.fit, views, false);
      if (!fit) {
        trial.fit.reset();
        trial.shown.remark = "rejected: " + fit.reason();
        continue;
      }
      pose_left_out(*fit, views);
      fits.push_back(*fit);
      trial.fit = std::move(fit).value();
    }
    if (fits.empty())
      throw input_error("lens", "no lens model fits these photos", "take them again, with the board flat");
  }
  return screening;
}

// What models that left-out photos do not speak against make of them otherwise: the largest difference.
double disagreement_px(const std::vector<Trial>& trials, std::size_t chosen, double noise_px) {
  if (!trials[chosen].held_out) return 0.0;
  double largest = 0.0;
  for (const Trial& trial : trials) {
    if (trial.not_worse)
      largest = std::max(largest, difference_px(*trial.held_out, *trials[chosen].held_out, noise_px));
  }
  return largest;
}

// The smallest model within one standard error of the best on held-out photos.
std::size_t choose(std::vector<Trial>& trials, const std::vector<bundle::View>& views) {
  std::vector<std::size_t> able;
  for (std::size_t i = 0; i < trials.size(); ++i) {
    Trial& trial = trials[i];
    if (!trial.fit) continue;
    trial.shown.fitted = true;
    trial.shown.rms_px = rms_of(*trial.fit, views);
    Outcome<HeldOut> held_out = cross_validate(*trial.fit, views);
    if (!held_out) {
      trial.shown.remark = "rejected: " + held_out.reason();
      continue;
    }
    trial.shown.held_out_px = held_out->rms_px();
    trial.held_out = std::move(held_out).value();
    able.push_back(i);
  }
  if (able.empty()) {
    for (std::size_t i = 0; i < trials.size(); ++i) {
      if (trials[i].fit) return i;
    }
    throw input_error("lens", "no lens model fits these photos", "take them again, with the board flat");
  }
  std::size_t best = able.front();
  for (const std::size_t i : able) {
    if (compare(*trials[i].held_out, *trials[best].held_out).mean < 0.0) best = i;
  }
  std::size_t chosen = best;
  for (const std::size_t i : able) {
    const LogRatio ratio = compare(*trials[i].held_out, *trials[best].held_out);
    trials[i].shown.held_out_ratio = std::exp(ratio.mean);
    trials[i].shown.held_out_ratio_se = std::exp(ratio.mean) * ratio.standard_error;
    trials[i].as_good = i == best || ratio.mean <= ratio.standard_error;
    // what only leaves terms out is no other opinion of the lens unless it is as good
    const double errors = trials[i].shown.model == LensModel::radial2 ? 1.0 : 2.0;
    trials[i].not_worse = i == best || ratio.mean <= errors * ratio.standard_error;
    // a map that ends inside the picture is of less use than one that covers it
    const auto rank = [&](std::size_t k) {
      return std::pair(!reaches_whole_picture(lens_of(*trials[k].fit)), distortion_count(trials[k].shown.model));
    };
    if (trials[i].as_good && rank(i) < rank(chosen)) chosen = i;
  }
  for (const std::size_t i : able) {
    ModelTrial& shown = trials[i].shown;
    if (i == chosen) {
      shown.remark = able.size() == 1 ? "chosen: the only one that can be used"
                     : i == best      ? "chosen: predicts left-out photos best"
                                      : "chosen: the smallest that predicts left-out photos as well as the best does";
    } else if (i == best) {
      shown.remark = "passed over: no better than the chosen one, to within one standard error";
    } else {
      shown.remark = format("passed over: its error on left-out photos is typically %.3f times the best model's",
                            shown.held_out_ratio);
    }
  }
  return chosen;
}

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

void write_notes(LensFit& result, std::size_t used_photos) {
  if (used_photos < kManyPhotos) {
    result.notes.push_back(format("Only %zu photos were used: about 15 make the lens surer.", used_photos));
  }
  if (result.coverage < 0.6) {
    result.notes.push_back(
        format("The board covers %.0f %% of the picture only: where it never was, the lens is a guess. "
               "Add photos with the board in the empty parts.",
               100.0 * result.coverage));
  }
  if (result.corner_count > 0 && result.outlier_count > 0.03 * (result.corner_count + result.outlier_count)) {
    result.notes.push_back(format("%d of %d corners do not fit: something is wrong with the photos or the board.",
                                  result.outlier_count, result.corner_count + result.outlier_count));
  }
  if (!result.reaches_corners) {
    result.notes.push_back(
        "The lens model does not reach the picture's outermost parts: nothing can be measured there. Photos with the "
        "board "
        "in the corners mend that.");
  }
  if (result.model_error_px > 0.5) {
    result.notes.push_back(format(
        "There is no lens model here that fits this lens well: about %.1f px of error remain that are not noise.",
        result.model_error_px));
  }
}

// The models fitted to the views, what is left out of them, and the choice.
struct Choice {
  std::vector<bundle::View> views;
  std::vector<Trial> trials;
  Screening screening;
  std::size_t chosen = 0;
  [[nodiscard]] const ModelFit& fit() const { return *trials[chosen].fit; }
};

Choice choose_lens(const std::vector<LensView>& named, int width_px, int height_px, const LensFitOptions& options,
                   const std::vector<Trial>* near = nullptr) {
  Choice choice;
  for (const LensView& view : named) {
    const std::size_t count = view.points.size();
    choice.views.push_back({view.points, std::vector<char>(count, 1), std::vector<double>(count, 1.0), view.whole});
  }
  // Tangential terms and k3 take for the lens what few or like-tilted photos leave open: focal lengths then come off by
  // a per cent. Two radial terms alone are therefore tried as well.
  for (const LensModel model :
       {LensModel::equidistant4, LensModel::radial2, LensModel::radial5, LensModel::rational8}) {
    if (options.model && *options.model != model) continue;
    choice.trials.emplace_back();
    choice.trials.back().shown.model = model;
  }
  choice.screening = fit_photos(choice.trials, choice.views, named, width_px, height_px, options, near);
  choice.chosen = choose(choice.trials, choice.views);
  return choice;
}

// Views as they were fitted, without those that were not used.
std::vector<FittedView> fitted_views(const ModelFit& fit, const std::vector<bundle::View>& views,
                                     const bundle::Settings& settings) {
  std::vector<FittedView> fitted;
  for (std::size_t i = 0; i < views.size(); ++i) {
    if (views[i].used_count() == 0) continue;
    std::optional<FittedView> view = bundle::fitted_view(fit.state, views[i], i, settings);
    if (!view) return {};
    fitted.push_back(std::move(*view));
  }
  return fitted;
}

// The sheet's shape fitted along with the lens, where the photos show that it has one.
std::optional<bundle::BoardShape> shape_that_shows(const Choice& flat) {
  const auto tells = [](const bundle::View& view) { return view.whole && view.used_count() > 0; };
  if (std::none_of(flat.views.begin(), flat.views.end(), tells)) return std::nullopt;
  const Outcome<ModelFit> fit = fit_model_plainly(flat.fit(), flat.views, true);
  if (!fit) return std::nullopt;
  bundle::Settings settings;
  settings.free_lens = fit->free_lens;
  settings.free_board = true;
  const std::optional<ArrowSystem> normal = bundle::linearise(fit->state, flat.views, settings);
  const std::optional<MatrixXd> inverse = normal ? inverse_shared(*normal) : std::nullopt;
  const std::vector<FittedView> views = fitted_views(*fit, flat.views, settings);
  if (!inverse || views.empty()) return std::nullopt;
  const SharedFit shared = judge_shared(views, *inverse, bundle::expectation(fit->state, settings));
  const bundle::BoardShape& shape = fit->state.board;
  if (!shape_shows(board_shape_fit(shape, shared.covariance, fit->free_lens, fit->state.lens.size())))
    return std::nullopt;
  return shape;
}

// Chosen anew on points of that shape: what was left out, and which model seemed best, may have been the sheet's doing.
// Only when left-out photos are then foreseen better.
std::optional<Choice> choose_in_shape(const Choice& flat, const bundle::BoardShape& shape,
                                      const std::vector<LensView>& named, int width_px, int height_px,
                                      const LensFitOptions& options) {
  std::vector<LensView> shaped = named;
  for (LensView& view : shaped)
    if (view.whole) view.points = in_shape(view.points, shape);
  Choice choice = choose_lens(shaped, width_px, height_px, options, &flat.trials);
  const double before = flat.trials[flat.chosen].shown.held_out_px;
  const double after = choice.trials[choice.chosen].shown.held_out_px;
  if (before > 0.0 && !(after > 0.0 && after < before)) return std::nullopt;
  for (std::size_t i = 0; i < named.size(); ++i) choice.views[i].points = named[i].points;
  choice.trials[choice.chosen].fit->state.board = shape;
  return choice;
}

}  // namespace

LensFit fit_lens_to_views(const std::vector<LensView>& named, int width_px, int height_px,
                          const LensFitOptions& options) {
  require_enough(named.size(), nullptr, named);
  Choice choice = choose_lens(named, width_px, height_px, options);
  bool free_board = options.fit_board_shape;
  if (options.judge_board_shape && !free_board) {
    const auto shape = shape_that_shows(choice);
    std::optional<Choice> shaped =
        shape ? choose_in_shape(choice, *shape, named, width_px, height_px, options) : std::nullopt;
    free_board = shaped.has_value();
    if (shaped) choice = std::move(*shaped);
  }
  std::vector<Trial>& trials = choice.trials;
  const std::vector<bundle::View>& views = choice.views;
  const Screening& screening = choice.screening;
  const std::size_t chosen = choice.chosen;
  ModelFit fit = choice.fit();
  if (options.model) trials[chosen].shown.remark = "chosen: asked for";
  if (free_board) {
    Outcome<ModelFit> shaped = fit_model_plainly(fit, views, true);
    if (shaped) fit = std::move(shaped).value();
  }

  LensFit result;
  result.lens = lens_of(fit);
  describe_photos(result, fit, views, named, screening);
  for (const Trial& trial : trials) result.trials.push_back(trial.shown);
  result.rms_px = rms_of(fit, views);

  bundle::Settings settings;
  settings.free_lens = fit.free_lens;
  settings.free_board = free_board;
  const std::optional<ArrowSystem> normal = bundle::linearise(fit.state, views, settings);
  const std::optional<MatrixXd> inverse = normal ? inverse_shared(*normal) : std::nullopt;
  const std::size_t used_photos = count_used(views);
  const double unknowns =
      static_cast<double>(normal ? normal->shared.rows() : 0) + 6.0 * static_cast<double>(used_photos);
  const double freedom = 2.0 * result.corner_count - unknowns;
  const char* const remedy =
      "take about 15 that show the board in all parts of the picture and tilted in all directions";
  if (!inverse || freedom <= 0.0) throw input_error("lens", "the photos do not determine the lens", remedy);
  result.sigma0_px = std::sqrt(normal->cost / freedom);
  const std::vector<FittedView> fitted = fitted_views(fit, views, settings);
  if (fitted.empty()) throw input_error("lens", "the photos do not determine the lens", remedy);
  std::vector<std::size_t> fitted_photo;
  for (std::size_t i = 0; i < views.size(); ++i)
    if (views[i].used_count() > 0) fitted_photo.push_back(i);
  const SharedFit shared = judge_shared(fitted, *inverse, bundle::expectation(fit.state, settings));
  result.noise_px = shared.noise.alone_px;
  result.together_px = shared.noise.together_px;
  result.disagreement = shared.disagreement;
  result.independent_corners = shared.share_independent * result.corner_count;
  const Eigen::Index lens_count = result.lens.parameters.size();
  result.covariance = spread_out(shared.covariance, fit.free_lens, lens_count);
  result.white_covariance = spread_out(result.sigma0_px * result.sigma0_px * *inverse, fit.free_lens, lens_count);
  const double focal_sigma = std::sqrt(std::max(result.covariance(0, 0), result.covariance(1, 1)));
  const std::string focal = format("the focal length open (%.0f +/- %.0f px)", result.lens.parameters[0], focal_sigma);
  if (focal_sigma > kWorstFocal * result.lens.focal_px().minCoeff())
    throw input_error("lens", "the photos leave " + focal, remedy);
  if (focal_sigma > kWeakFocal * result.lens.focal_px().minCoeff())
    result.notes.push_back("The photos leave " + focal +
                           ": what is measured carries that uncertainty. Boards tilted by 30 to 45 degrees towards "
                           "every side settle it.");
  if (free_board) {
    result.board_shape = board_shape_fit(fit.state.board, shared.covariance, fit.free_lens, lens_count);
    for (std::string& note : shape_notes(*result.board_shape)) result.notes.push_back(std::move(note));
  }

  // of independent corners whose lens would be as unsure
  const double as_independent_px = result.sigma0_px / std::sqrt(shared.share_independent);
  result.model_error_px = std::max(common_structure_px(residuals_of(result), width_px, height_px),
                                   disagreement_px(trials, chosen, as_independent_px));
  for (std::size_t i = 0; i < trials.size(); ++i) {
    if (trials[i].held_out) result.trials[i].by_noise_px = trials[i].held_out->rms_by_noise_px(shared.noise);
  }
  if (trials[chosen].held_out) {
    result.model_error_px = std::max(result.model_error_px, trials[chosen].held_out->excess_px(shared.noise));
  }
  result.coverage = covered_share(result.photos, width_px, height_px);
  result.reaches_corners = reaches_whole_picture(result.lens);
  write_notes(result, used_photos);
  if (result.disagreement > kContradiction) {
    result.notes.push_back(
        format("The photos contradict each other %.1f times as much as their corners' errors explain, %s most of all: "
               "either no lens model suits this lens, or zoom, focus or the board's shape changed between them.",
               result.disagreement, result.photos[fitted_photo[shared.most_contrary]].file.c_str()));
  }
  return result;
}

namespace {

// Reasons that need no fit: another size, the same photo twice.
std::string unusable(const LensPhoto& photo, int width_px, int height_px, const std::vector<LensPhoto>& all,
                     std::size_t index) {
  if (!photo.corners) return photo.corners.reason();
  if (photo.width_px != width_px || photo.height_px != height_px) {
    return format("it has %d x %d px, the others %d x %d: one lens file serves one size", photo.width_px,
                  photo.height_px, width_px, height_px);
  }
  for (std::size_t i = 0; i < index; ++i) {
    if (all[i].corners && all[i].corners->px == photo.corners->px) return "it is the same photo as " + all[i].file;
  }
  return {};
}

bool spans_whole_board(const BoardCorners& corners) {
  GridPlace least = corners.place(0);
  GridPlace greatest = least;
  for (std::size_t i = 1; i < corners.px.size(); ++i) {
    const GridPlace place = corners.place(i);
    least = {std::min(least.column, place.column), std::min(least.row, place.row)};
    greatest = {std::max(greatest.column, place.column), std::max(greatest.row, place.row)};
  }
  return least == GridPlace{0, 0} &&
         greatest == GridPlace{corners.board.inner_columns() - 1, corners.board.inner_rows() - 1};
}

// What keeps more photos out than serve: a board of other counts, whichever parts of it pass for the declared one's;
// and what is the same for every photo.
std::string said_by_most(const std::vector<LensPhoto>& photos, std::size_t serving) {
  const auto saying = [&](const Failure& failure) {
    return static_cast<std::size_t>(std::count_if(photos.begin(), photos.end(), [&](const LensPhoto& photo) {
      return !photo.corners && photo.corners.failure().text == failure.text;
    }));
  };
  for (const LensPhoto& photo : photos) {
    if (photo.corners) continue;
    const Failure& failure = photo.corners.failure();
    const std::size_t count = saying(failure);
    const bool all = count == photos.size() && count > 1;
    if (!all && !(failure.code == FailureCode::another_board && count > std::max<std::size_t>(serving, 1))) continue;
    return (all ? "every photo: " : format("%zu of %zu photos: ", count, photos.size())) + failure.text;
  }
  return {};
}

// The size that most of the photos with a board have.
std::pair<int, int> common_size(const std::vector<LensPhoto>& photos) {
  std::pair<int, int> best{0, 0};
  std::ptrdiff_t most = 0;
  for (const LensPhoto& photo : photos) {
    if (!photo.corners) continue;
    const auto n = std::count_if(photos.begin(), photos.end(), [&](const LensPhoto& other) {
      return other.corners.ok() && other.width_px == photo.width_px && other.height_px == photo.height_px;
    });
    if (n > most) {
      most = n;
      best = {photo.width_px, photo.height_px};
    }
  }
  return best;
}

}  // namespace

LensFit fit_lens(const std::vector<LensPhoto>& photos, const LensFitOptions& options) {
  const auto [width_px, height_px] = common_size(photos);
  std::vector<LensView> views;
  std::vector<std::string> reasons;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    reasons.push_back(unusable(photos[i], width_px, height_px, photos, i));
    if (!reasons.back().empty()) continue;
    views.push_back({photos[i].file, board_points(*photos[i].corners), spans_whole_board(*photos[i].corners)});
  }
  if (const std::string most = said_by_most(photos, views.size()); !most.empty()) {
    throw input_error("lens", most,
                      "check that --board counts squares, not corners, along both sides, and that the photos show it");
  }
  if (views.size() < kFewestPhotos) {
    const std::string few =
        format("%zu usable photos of the board, at least %zu are needed", views.size(), kFewestPhotos);
    std::string listed;
    for (std::size_t i = 0; i < photos.size(); ++i) {
      if (!reasons[i].empty()) listed += "; " + photos[i].file + ": " + reasons[i];
    }
    throw input_error("lens", few + listed,
                      "take about 15 that show it in all parts of the picture and tilted in all directions");
  }
  LensFit result = fit_lens_to_views(views, width_px, height_px, options);
  std::vector<PhotoFit> in_order;
  std::size_t next = 0;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    if (reasons[i].empty()) {
      in_order.push_back(std::move(result.photos[next++]));
      continue;
    }
    PhotoFit left_out;
    left_out.file = photos[i].file;
    left_out.reason = reasons[i];
    in_order.push_back(std::move(left_out));
  }
  result.photos = std::move(in_order);
  return result;
}

}  // namespace jigtrue
