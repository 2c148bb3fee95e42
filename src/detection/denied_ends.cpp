#include "detection/denied_ends.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace jigtrue {
namespace {

constexpr double kOnOutline_px = 1.0;  // an edge that lies on the outline does so within a pixel

constexpr double kBeyondFromMm = 1.5;  // the stretch beyond an end that is looked at
constexpr double kBeyondToMm = 7.0;    // long enough for a mean, short of the next blank's end

// A straight blank, longer by the stretches beyond its ends, lying as this one does.
Blank lengthened(const Blank& blank, double extra_mm) {
  Blank longer = blank;
  if (const auto* turned = std::get_if<TurnedBlank>(&blank.shape)) {
    TurnedBlank shape = *turned;
    for (ProfilePoint& point : shape.profile) point.distance_mm += extra_mm / 2.0;
    shape.profile.insert(shape.profile.begin(), {0.0, shape.profile.front().diameter_mm});
    shape.profile.push_back({shape.profile.back().distance_mm + extra_mm / 2.0, shape.profile.back().diameter_mm});
    longer.shape = shape;
  } else {
    longer.shape = grown(blank.shape, 0.0, extra_mm);
  }
  return longer;
}

using AtEnds = std::array<bool, 2>;  // start, end

// Whether both sides seem to run on beyond an end, as a groove's edges do and a blank's do not.
AtEnds run_on(const View& view, const OutlineFit& fit) {
  constexpr double kSeenRatio = 3.0;  // more than what passes for an edge at all (kSmallestRatio)
  constexpr double kAsStrong = 0.5;   // of the side itself: an edge that goes on is about as strong there
  const BlankPlace& place = fit.place;
  const double half = (length_mm(view.blank.shape) + place.length_mm) / 2.0;
  const Blank longer = lengthened(view.blank, 2.0 * kBeyondToMm);
  std::vector<SideStretch> beyond;
  for (const double sign : {-1.0, 1.0})
    for (const OutlinePart part : {OutlinePart::left, OutlinePart::right})
      beyond.push_back({part, sign * (half + kBeyondFromMm), sign * (half + kBeyondToMm)});
  const auto edges = edges_beside(view.with(longer), place, beyond);
  const auto there = [&](std::size_t i) {
    return edges[i] && edges[i]->misfit_ratio > kSeenRatio && std::abs(edges[i]->position_px) < kOnOutline_px &&
           edges[i]->strength > kAsStrong * fit.part(beyond[i].part).strength;
  };
  return {there(0) && there(1), there(2) && there(3)};
}

// Whether the blank seems to stop short of one of its ends: neither side shows just inside it, as where a pocket's wall
// was taken for the end. Sides that are faint all along say nothing by being missed there. Flat blanks have their round
// corners there, discs no sides.
AtEnds stop_short(const View& view, const OutlineFit& fit) {
  constexpr double kFrom_mm = 0.4;     // ends are chamfered and rounded
  constexpr double kTo_mm = 2.4;       // in which a small picture, too, has samples enough
  constexpr double kLeastRatio = 2.0;  // what a short stretch of a plain side leaves at least
  constexpr double kPlainSideRatio =
      8.0;  // of some millimetres of a side, which leaves a short stretch more than noise
  const double faintest = std::min(fit.part(OutlinePart::left).misfit_ratio, fit.part(OutlinePart::right).misfit_ratio);
  if (is_flat(view.blank.shape) || faintest < kPlainSideRatio) return {false, false};
  const double half = (length_mm(view.blank.shape) + fit.place.length_mm) / 2.0;
  std::vector<SideStretch> inside;
  for (const double sign : {-1.0, 1.0})
    for (const OutlinePart part : {OutlinePart::left, OutlinePart::right})
      inside.push_back({part, sign * (half - kFrom_mm), sign * (half - kTo_mm)});
  const auto edges = edges_beside(view, fit.place, inside);
  const auto missing = [&](std::size_t i) {
    return edges[i] && (edges[i]->misfit_ratio < kLeastRatio || std::abs(edges[i]->position_px) >= kOnOutline_px);
  };
  return {missing(0) && missing(1), missing(2) && missing(3)};
}

}  // namespace

std::array<bool, 2> denied_ends(const View& view, const OutlineFit& fit) {
  if (view.is_disc()) return {false, false};
  const AtEnds on = run_on(view, fit);
  const AtEnds off = stop_short(view, fit);
  return {on[0] || off[0], on[1] || off[1]};
}

}  // namespace jigtrue
