#include "measurement/size_seen.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/detection/propose_sizes.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace jigtrue {
namespace {

std::string sizes_text(const SizesAsked& asked, double girth_mm, double length_mm) {
  std::string text;
  for (const std::string& field : asked.fields)
    text +=
        (text.empty() ? "" : ", ") + field + " " + fixed_text(SizesAsked::is_length(field) ? length_mm : girth_mm, 1);
  return text;
}

// How many of these blanks have an outline of this other size inside their own: a pocket's outline has its blank's.
std::size_t inside_of(const SizeTrial& outer, const ProposedSize& inner) {
  constexpr double kShorter_mm = 4.0;   // than a pocket at least: ends nearer to each other are one blank's
  constexpr double kProposed_mm = 2.0;  // as well as sizes and places are proposed
  constexpr double kAskew_deg = 4.0;    // as well as directions are proposed
  if (inner.length_mm > outer.length_mm() - kShorter_mm || inner.girth_mm > outer.girth_mm() + kProposed_mm) return 0;
  const double room_along = 0.5 * (outer.length_mm() - inner.length_mm) + kProposed_mm;
  const double room_across = 0.5 * std::max(outer.girth_mm() - inner.girth_mm, 0.0) + kProposed_mm;
  return static_cast<std::size_t>(
      std::count_if(outer.measured.begin(), outer.measured.end(), [&](const ScoutedPlace& blank) {
        return std::any_of(inner.places.begin(), inner.places.end(), [&](const ProposedPlace& place) {
          const Vector2d along = unit_vector(rad_from_deg(blank.slot.axis_deg));
          const Vector2d away = place.place.centre_mm - blank.slot.centre_mm;
          const double turn = std::remainder(deg_from_rad(place.place.heading_rad) - blank.slot.axis_deg, 180.0);
          return std::abs(away.dot(along)) < room_along && std::abs(away.dot(turned_left(along))) < room_across &&
                 std::abs(turn) < kAskew_deg;
        });
      }));
}

}  // namespace

SizeTrial size_seen(const ScoutedLoad& load, const SizesAsked& asked, const ScoutOptions& options,
                    EdgeModelStore& models) {
  constexpr double kSupposedWithin_mm = 1.0;  // of a proposed size the true one lies within
  constexpr double kAboutAsMuch = 0.8;        // of the support of the best: as evident
  constexpr std::size_t kFirstFew = 4;        // places of each size that are judged first
  constexpr double kWorthMeasuring = 0.3;     // of the most evident size's support
  const LikeFile like = read_like_to_measure(asked.text, asked.file);
  const auto alike = [](const SizeTrial& a, const SizeTrial& b) {
    return std::abs(a.girth_mm() - b.girth_mm()) < 0.5 && std::abs(a.length_mm() - b.length_mm()) < 1.0;
  };
  const auto most_evident_first = [](std::vector<SizeTrial>& list) {
    std::stable_sort(list.begin(), list.end(),
                     [](const SizeTrial& a, const SizeTrial& b) { return a.evidence > b.evidence; });
  };
  std::vector<SizeTrial> supposed;
  const std::vector<ProposedSize> proposed =
      propose_sizes(load.photo, load.camera, like.kind.blank, like.kind.seat, asked.wanted(), options.threads);
  constexpr std::size_t kMostTried = 5;  // sizes that are tried
  for (std::size_t i = 0; i < std::min(proposed.size(), kMostTried); ++i) {
    const ProposedSize& size = proposed[i];
    std::vector<ProposedPlace> places = size.places;
    places.resize(std::min(places.size(), kFirstFew));
    SizeTrial trial =
        tried_size(load, asked.like(size.girth_mm, size.length_mm), kSupposedWithin_mm, places, options, models);
    if (!trial.measured.empty()) supposed.push_back(std::move(trial));
  }
  most_evident_first(supposed);
  std::vector<SizeTrial> trials;
  const double worth_measuring = supposed.empty() ? 0.0 : kWorthMeasuring * supposed.front().evidence;
  for (SizeTrial& each : supposed) {
    if (trials.size() == 2 || each.evidence < worth_measuring) break;
    SizeTrial trial = refined_size(load, asked, std::move(each), options, models);
    if (trial.measured.empty()) continue;  // seen of a supposed size, and not of the one measured
    if (std::none_of(trials.begin(), trials.end(), [&](const SizeTrial& known) { return alike(known, trial); }))
      trials.push_back(std::move(trial));
  }
  most_evident_first(trials);
  if (trials.empty())
    throw input_error(load.photo.file, "no blank is seen whose size could be measured",
                      "see that the photo shows the loaded jig by this camera, or give the sizes by callipers");
  const auto refuse_either = [&](double girth_mm, double length_mm) {
    throw input_error(
        load.photo.file,
        "two sizes explain what is seen: " + sizes_text(asked, trials[0].girth_mm(), trials[0].length_mm()) + ", or " +
            sizes_text(asked, girth_mm, length_mm),
        "give the right one in the file, instead of \"measure\"");
  };
  if (trials.size() > 1 && trials[1].evidence > kAboutAsMuch * trials[0].evidence)
    refuse_either(trials[1].girth_mm(), trials[1].length_mm());
  for (const ProposedSize& size : proposed)
    if (asked.wanted().length && 2 * inside_of(trials[0], size) > trials[0].measured.size())
      refuse_either(size.girth_mm, size.length_mm);
  return std::move(trials.front());
}

}  // namespace jigtrue
