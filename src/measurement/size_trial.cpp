#include "measurement/size_trial.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/median.hpp"
#include "jigtrue/detection/propose_places.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace jigtrue {
namespace {

// Where the blanks lie that were measured.
std::vector<ProposedPlace> places_of(const SizeTrial& trial) {
  std::vector<ProposedPlace> places;
  places.reserve(trial.measured.size());
  for (const ScoutedPlace& blank : trial.measured)
    places.push_back({{blank.slot.centre_mm, rad_from_deg(blank.slot.axis_deg)}, blank.support});
  std::stable_sort(places.begin(), places.end(),
                   [](const ProposedPlace& a, const ProposedPlace& b) { return a.support > b.support; });
  return places;
}

std::optional<CommonMean> of_all(const std::optional<CommonMean>& common, const std::vector<double>& values,
                                 double own_sigma_mm) {
  if (common || values.size() != 1) return common;
  CommonMean single;
  single.mm = values.front();
  single.u_mm = own_sigma_mm;
  single.blanks = 1;
  return single;
}

}  // namespace

SizeTrial tried_size(const ScoutedLoad& load, LikeFile like, double within_mm, const std::vector<ProposedPlace>& places,
                     const ScoutOptions& options, EdgeModelStore& models) {
  SizeTrial trial{std::move(like), {}, 0.0};
  Blank& blank = trial.like.kind.blank;
  blank.diameter_tolerance_mm = std::min(within_mm, 0.1 * trial.girth_mm());
  blank.length_tolerance_mm = std::max(blank.length_tolerance_mm, 2.0 * within_mm);
  const Scout scout{load.photo, load.camera, load.lens_error_px, trial.like, options, models};
  BlankSearch search(scout);
  search.judge(places);
  trial.measured = search.blanks();
  for (const ScoutedPlace& other : search.others())
    if (other.measured.state == SlotState::mismatch && other.measured.numbers &&
        other.measured.log_ratio >= kMoreThanChanceOnBed)
      trial.measured.push_back(other);
  // edges of a highlight, a groove or a gap have the same surface on either side
  std::erase_if(trial.measured, [](const ScoutedPlace& place) { return place.measured.two_materials < 0.0; });
  for (const ScoutedPlace& place : trial.measured)
    trial.evidence += place.measured.log_ratio + place.measured.two_materials;
  return trial;
}

std::vector<ProposedPlace> plainest_places(const ScoutedLoad& load, const Slot& kind, int threads) {
  constexpr std::size_t kEnough = 12;  // places of one size that are measured for its mean
  auto places = BedSearch(load.photo, load.camera, kind.blank, kind.seat, threads).declared();
  if (places.size() > kEnough) places.resize(kEnough);
  return places;
}

std::optional<LoadSizes> size_of_load(const SizeTrial& trial) {
  Fixture fixture;
  std::vector<SlotResult> results;
  std::vector<double> girths;
  std::vector<double> girth_sigmas;
  std::vector<double> lengths;
  std::vector<double> length_sigmas;
  for (const ScoutedPlace& place : trial.measured) {
    SlotResult result = place.measured;
    if (!result.girth) continue;
    result.numbers->diameter_mm = result.girth->mm;
    result.numbers->uncertainty.diameter_mm = kCoverageFactor95 * result.girth->sigma_mm;
    girths.push_back(result.girth->mm);
    girth_sigmas.push_back(result.girth->sigma_mm);
    if (result.length && result.length->own_mm) {
      lengths.push_back(*result.length->own_mm);
      length_sigmas.push_back(result.length->own_sigma_mm);
    }
    fixture.slots.push_back(place.slot);
    results.push_back(std::move(result));
  }
  if (results.empty()) return std::nullopt;
  const CommonSize common = common_sizes(fixture, results).front();
  LoadSizes size;
  size.own_girth_sigma_mm = median(girth_sigmas).value_or(0.0);
  size.own_length_sigma_mm = median(length_sigmas).value_or(0.0);
  const auto girth = of_all(common.diameter, girths, size.own_girth_sigma_mm);
  const auto length = of_all(common.length, lengths, size.own_length_sigma_mm);
  if (!girth) return std::nullopt;
  size.girth = *girth;
  size.girths = girths;
  size.lengths = lengths;
  if (length) size.length = *length;
  return size;
}

SizeTrial refined_size(const ScoutedLoad& load, const SizesAsked& asked, SizeTrial trial, const ScoutOptions& options,
                       EdgeModelStore& models) {
  constexpr int kRounds = 3;           // of measuring and looking anew with what was measured
  constexpr double kSettled_mm = 0.1;  // a step of what is told
  const SizesWanted wanted = asked.wanted();
  for (int round = 0; round < kRounds; ++round) {
    const auto size = size_of_load(trial);
    if (!size) break;
    const double girth = wanted.girth ? size->girth.mm : trial.girth_mm();
    const double length = wanted.length && size->length.blanks > 0 ? size->length.mm : trial.length_mm();
    if (round > 0 && std::abs(girth - trial.girth_mm()) < kSettled_mm &&
        std::abs(length - trial.length_mm()) < kSettled_mm)
      break;
    LikeFile like = asked.like(girth, length);
    const auto places = round == 0 ? plainest_places(load, like.kind, options.threads) : places_of(trial);
    trial = tried_size(load, std::move(like), kMeasuredWithin_mm, places, options, models);
  }
  return trial;
}

}  // namespace jigtrue
