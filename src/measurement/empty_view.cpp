#include "jigtrue/measurement/empty_view.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "measurement/changed_cells.hpp"
#include "measurement/compared_photos.hpp"
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

PartChange share_set(const cv::Mat1b& which, const cv::Mat1b& where) {
  PartChange change;
  int count = 0;
  for (int r = 0; r < which.rows; ++r)
    for (int c = 0; c < which.cols; ++c) {
      if (where(r, c) == 0) continue;
      ++change.cells;
      count += which(r, c);
    }
  if (change.cells > 0) change.share = static_cast<double>(count) / change.cells;
  return change;
}

}  // namespace

cv::Mat1b EmptyView::cells_within(const Polyline2d& outline_px) const { return filled({outline_px}, cells_); }

PartChange EmptyView::change_within(const Polyline2d& outline_px) const {
  return share_set(changed_, cells_within(outline_px));
}

PartChange EmptyView::change_between(const Polyline2d& inner_px, const Polyline2d& outer_px) const {
  cv::Mat1b where = cells_within(outer_px);
  where.setTo(0, cells_within(inner_px));
  where.setTo(0, of_slots_);
  return share_set(foreign_, where);
}

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
  const registration::ChangedCells told =
      registration::changed_cells(*pair, *regions, level, compared, view.place_sigma_px);
  view.cells_ = told.cells;
  view.changed_ = told.changed;
  view.foreign_ = told.foreign;
  view.of_slots_ = told.of_slots;
  view.agreement = 1.0 - share_set(told.changed, told.beside).share;
  if (view.agreement < kLeastAgreement + kMoreFarOff * found->motion.head<2>().squaredNorm())
    return Failure{"beside the slots it shows something else than the load's photo does"};
  registration::MovedPhoto moved = registration::moved_photo(empty, *pair, level, found->motion, compared.light);
  view.photo = std::move(moved.photo);
  view.known = moved.known;
  return view;
}

}  // namespace jigtrue
