#include "calibration/choose_in_shape.hpp"

#include <algorithm>
#include <utility>

#include "calibration/board_shape.hpp"

namespace jigtrue {

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

}  // namespace jigtrue
