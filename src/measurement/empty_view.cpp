#include "jigtrue/measurement/empty_view.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "measurement/compared_photos.hpp"
#include "measurement/find_changes.hpp"
#include "measurement/jig_level.hpp"
#include "measurement/jig_motion.hpp"
#include "measurement/moved_photo.hpp"
#include "measurement/plane_pair.hpp"
#include "measurement/slot_regions.hpp"

namespace jigtrue {
namespace {

// Share of the cells beside the slots that are as they were. Shadows of blanks leave half of them, a hand over half the
// jig a third, another jig at the best motion a fifth to a half, but then far from where it should lie.
constexpr double kLeastAgreement = 0.28;
constexpr double kMoreFarOff = 0.25;         // at 1 mm, growing by the square
constexpr double kLeastPlaceSigma_px = 0.1;  // what interpolation leaves

}  // namespace

Outcome<EmptyView> register_empty(const Photo& load, const Photo& empty, const Camera& camera, const Fixture& fixture,
                                  const std::vector<BlankPlace>& places) {
  const auto regions = slot_regions(camera, fixture, places);
  const auto pair = regions ? plane_pair(load, empty, *regions) : std::nullopt;
  if (!pair) return Failure{"no slot lies in the picture"};
  registration::Level level = registration::jig_level(*pair, *regions, camera, fixture);
  const auto found = registration::find_motion(level);
  if (!found) return Failure{"the jig does not stand where it stood in it"};
  level.gain = found->gain;
  EmptyView view;
  view.motion = {found->motion.head<2>(), deg_from_rad(found->motion[2])};
  view.place_sigma_px =
      regions->px_per_mm * std::sqrt(std::max(found->covariance(0, 0), found->covariance(1, 1))) + kLeastPlaceSigma_px;
  const registration::Compared compared = registration::compare(*pair, level, found->motion);
  view.noise = compared.noise;
  view.changes = registration::find_changes(*pair, *regions, level, compared, view.place_sigma_px);
  view.agreement = 1.0 - view.changes.beside_slots().share;
  if (view.agreement < kLeastAgreement + kMoreFarOff * found->motion.head<2>().squaredNorm())
    return Failure{"beside the slots it shows something else than the load's photo does"};
  registration::MovedPhoto moved = registration::moved_photo(empty, *pair, level, found->motion, compared.light);
  view.photo = std::move(moved.photo);
  view.known = moved.known;
  return view;
}

}  // namespace jigtrue
