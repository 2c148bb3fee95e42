// The models fitted to photos of a board, what is left out of them, and which model it shall be. Internal.
#pragma once
#include "jigtrue/calibration/lens_fit.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "calibration/choose_model.hpp"
#include "calibration/fit_model.hpp"
#include "calibration/screen_views.hpp"

namespace jigtrue {

struct LensTrial {
  ModelTrial shown;
  std::optional<ModelFit> fit;
  std::optional<HeldOut> held_out;
  bool as_good = false;    // as the best on held-out photos, to within one standard error
  bool not_worse = false;  // to within two: the photos do not speak against it
};

struct Choice {
  std::vector<bundle::View> views;
  std::vector<LensTrial> trials;
  Screening screening;
  std::size_t chosen = 0;
  [[nodiscard]] const ModelFit& fit() const { return *trials[chosen].fit; }
};

// Throws InputError when too few photos remain or no model fits them. near: trials of the same photos on points a
// little elsewhere, to start from.
[[nodiscard]] Choice choose_lens(const std::vector<LensView>& named, int width_px, int height_px,
                                 const LensFitOptions& options, const std::vector<LensTrial>* near = nullptr);

// What models that left-out photos do not speak against make of them otherwise than the chosen one, beyond what corners
// that err alone by noise_px make of it: the largest difference.
[[nodiscard]] double disagreement_px(const Choice& choice, double noise_px);

// Throws InputError with each photo's reason when fewer photos than kFewestPhotos can be used.
void require_enough(std::size_t count, const Screening* screening, const std::vector<LensView>& views);

// In words, why a photo is left out; empty where it is not.
[[nodiscard]] std::string reason_of(Verdict verdict);

[[nodiscard]] std::size_t count_used(const std::vector<bundle::View>& views);
// Of the distance, per corner used.
[[nodiscard]] double rms_of(const ModelFit& fit, const std::vector<bundle::View>& views);
[[nodiscard]] Lens lens_of(const ModelFit& fit);
// The map covers the picture up to its edges.
[[nodiscard]] bool reaches_whole_picture(const Lens& lens);

}  // namespace jigtrue
