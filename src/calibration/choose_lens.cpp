#include "calibration/choose_lens.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "calibration/format.hpp"
#include "calibration/more_photos.hpp"

namespace jigtrue {

namespace {

constexpr int kScreeningRounds = 3;  // of leaving out photos and fitting anew

std::vector<bundle::View> keep_screened(const Screening& screening, std::vector<bundle::View> views) {
  for (std::size_t i = 0; i < views.size(); ++i) {
    views[i].used = screening.point_used[i];
    if (screening.verdict[i] != Verdict::used) std::fill(views[i].used.begin(), views[i].used.end(), char{0});
  }
  return views;
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
Screening fit_photos(std::vector<LensTrial>& trials, std::vector<bundle::View>& views,
                     const std::vector<LensView>& named, int width_px, int height_px, const LensFitOptions& options,
                     const std::vector<LensTrial>* near) {
  std::vector<ModelFit> fits;
  const ModelFit* leaner = nullptr;  // of the pinhole models: each goes on from the one with fewer terms
  const ModelFit* other = nullptr;   // of the other family
  for (LensTrial& trial : trials) {
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
    for (LensTrial& trial : trials) {
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

// The smallest model within one standard error of the best on held-out photos.
std::size_t choose(std::vector<LensTrial>& trials, const std::vector<bundle::View>& views) {
  std::vector<std::size_t> able;
  for (std::size_t i = 0; i < trials.size(); ++i) {
    LensTrial& trial = trials[i];
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

}  // namespace

std::size_t count_used(const std::vector<bundle::View>& views) {
  return static_cast<std::size_t>(
      std::count_if(views.begin(), views.end(), [](const bundle::View& v) { return v.used_count() > 0; }));
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
  throw input_error("lens", too_few_photos(count) + why, kMorePhotos);
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

double disagreement_px(const Choice& choice, double noise_px) {
  const std::vector<LensTrial>& trials = choice.trials;
  const std::size_t chosen = choice.chosen;
  if (!trials[chosen].held_out) return 0.0;
  double largest = 0.0;
  for (const LensTrial& trial : trials) {
    if (trial.not_worse)
      largest = std::max(largest, difference_px(*trial.held_out, *trials[chosen].held_out, noise_px));
  }
  return largest;
}

Choice choose_lens(const std::vector<LensView>& named, int width_px, int height_px, const LensFitOptions& options,
                   const std::vector<LensTrial>* near) {
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

}  // namespace jigtrue
