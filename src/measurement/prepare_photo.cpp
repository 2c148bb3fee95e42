#include "jigtrue/measurement/prepare_photo.hpp"

#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/base/median.hpp"
#include "jigtrue/detection/estimate_blur.hpp"
#include "jigtrue/measurement/fixture_marks.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

// Half the distance to the nearest other slot bounds the search: the next blank must not be taken for this one.
SearchRange range_for(const Fixture& fixture, std::size_t index, SearchRange range) {
  const Slot& slot = fixture.slots[index];
  const double angle = rad_from_deg(slot.axis_deg);
  const Vector2d along = unit_vector(angle);
  const Vector2d across = turned_left(along);
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    if (i == index) continue;
    const Vector2d away = fixture.slots[i].centre_mm - slot.centre_mm;
    const bool abreast = std::abs(away.dot(along)) < std::abs(away.dot(across));
    double& reach = abreast ? range.across_mm : range.along_mm;
    reach = std::min(reach, std::max(0.45 * std::abs(away.dot(abreast ? across : along)), 1.0));
  }
  return range;
}

// Where the blanks are expected: at the slots' nominal places, or as the fixture's marks place them.
std::vector<BlankPlace> expected_places(const Fixture& fixture, const std::optional<FixturePlacement>& marked) {
  const Vector2d centre = common_centre_mm(fixture);
  std::vector<BlankPlace> places;
  for (const Slot& slot : fixture.slots) {
    BlankPlace place = nominal_place(slot);
    if (marked) {
      place.centre_mm = placed_mm(*marked, centre, place.centre_mm);
      place.heading_rad += rad_from_deg(marked->turn_deg);
    }
    places.push_back(place);
  }
  return places;
}

SearchPicture search_picture_for(const Photo& photo, const Camera& camera, const std::vector<SlotTask>& tasks) {
  double px_per_mm = std::numeric_limits<double>::infinity();
  double slimmest_mm = std::numeric_limits<double>::infinity();
  for (const SlotTask& task : tasks) {
    const Slot& slot = task.slot;
    const double own = px_per_mm_at(camera, {slot.centre_mm.x(), slot.centre_mm.y(), 0.0});
    if (own > 0.0) px_per_mm = std::min(px_per_mm, own);
    slimmest_mm = std::min(slimmest_mm, largest_girth_mm(slot.blank.shape));
  }
  return make_search_picture(photo, std::isfinite(px_per_mm) ? search_shrink(px_per_mm, slimmest_mm) : 1);
}

// The picture's blur: the median over the few slots whose blanks stand out best.
PictureBlur picture_blur(const Photo& photo, const Camera& camera, const std::vector<SlotTask>& tasks, int threads,
                         EdgeModelStore& models) {
  constexpr std::size_t kMeasured = 5;  // odd: the mean of two is a blur that no outline was measured with
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < tasks.size(); ++i)
    if (!tasks[i].coarse.candidates.empty()) order.push_back(i);
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return tasks[a].coarse.candidates.front().sides() > tasks[b].coarse.candidates.front().sides();
  });
  if (order.size() > kMeasured) order.resize(kMeasured);
  std::vector<std::optional<PictureBlur>> blurs(order.size());
  in_parallel(order.size(), threads, [&](std::size_t i, std::size_t) {
    const Slot& slot = tasks[order[i]].slot;
    BlankPlace place = tasks[order[i]].coarse.candidates.front().place;
    place.girth_mm = 0.0;
    OutlineFitOptions fit_options;
    fit_options.girth_sigma_mm = slot.blank.diameter_tolerance_mm / std::sqrt(3.0);
    fit_options.length_centre_mm = place.length_mm;
    fit_options.length_sigma_mm = 0.5;
    const View view{photo, camera, slot.blank, slot.seat, {}, models};
    const auto fit = fit_outline(view, place, fit_options);
    if (fit) blurs[i] = estimate_blur(view, fit->place);
  });
  std::vector<double> luma;
  std::vector<double> chroma;
  for (const auto& blur : blurs) {
    if (!blur) continue;
    luma.push_back(blur->luma_px);
    chroma.push_back(blur->chroma_px);
  }
  const PictureBlur usual;
  return {median(luma).value_or(usual.luma_px), median(chroma).value_or(usual.chroma_px)};
}

// Each slot's own window, and beside it what all slots' windows show together.
void count_clutter(const Photo& photo, const Camera& camera, const PictureBlur& blur, const BareJig* jig, int threads,
                   EdgeModelStore& models, std::vector<SlotTask>& tasks) {
  in_parallel(tasks.size(), threads, [&](std::size_t i, std::size_t) {
    const Slot& slot = tasks[i].slot;
    tasks[i].clutter = EdgeClutter();
    add_clutter_around({photo, camera, slot.blank, slot.seat, blur, models, jig}, tasks[i], tasks[i].clutter);
  });
  EdgeClutter all;
  for (const SlotTask& task : tasks) all.add(task.clutter);
  all.finish();
  for (SlotTask& task : tasks) {
    task.clutter.finish();
    task.clutter.beside(all);
  }
}

// What is in the photo beyond the bare jig, on a middle grey: shadows of the blanks, and they themselves.
Photo beyond_jig(const Photo& photo, const BareJig& jig) {
  const auto plane_beyond = [](const cv::Mat1b& load, const cv::Mat1b& bare) {
    cv::Mat1b out;
    cv::addWeighted(load, 1.0, bare, -1.0, 128.0, out);
    return out;
  };
  Photo out = photo;
  out.luma = plane_beyond(photo.luma, jig.photo.luma);
  if (!photo.has_colour() || !jig.photo.has_colour()) return out;
  out.cb = plane_beyond(photo.cb, jig.photo.cb);
  out.cr = plane_beyond(photo.cr, jig.photo.cr);
  return out;
}

}  // namespace

PreparedPhoto prepare_tasks(const Photo& photo, const Camera& camera, std::vector<SlotTask> tasks, int threads,
                            EdgeModelStore& models) {
  PreparedPhoto prepared;
  prepared.picture = search_picture_for(photo, camera, tasks);
  prepared.tasks = std::move(tasks);
  // Each slot is looked at on its own, so the order in which threads take them cannot matter.
  in_parallel(prepared.tasks.size(), threads, [&](std::size_t i, std::size_t) {
    SlotTask& task = prepared.tasks[i];
    task.coarse = search_slot(prepared.picture, camera, task.slot.blank, task.slot.seat, task.expected, task.range);
  });
  prepared.blur = picture_blur(photo, camera, prepared.tasks, threads, models);
  count_clutter(photo, camera, prepared.blur, nullptr, threads, models, prepared.tasks);
  return prepared;
}

std::vector<SlotTask> tasks_on_jig(const Photo& photo, const Camera& camera, const BareJig& jig, int threads,
                                   EdgeModelStore& models, const PreparedPhoto& prepared) {
  const SearchPicture beyond = make_search_picture(beyond_jig(photo, jig), prepared.picture.shrink);
  std::vector<SlotTask> tasks = prepared.tasks;
  in_parallel(tasks.size(), threads, [&](std::size_t i, std::size_t) {
    SlotTask& task = tasks[i];
    const CoarseFinding more = search_slot(beyond, camera, task.slot.blank, task.slot.seat, task.expected, task.range);
    task.coarse.candidates.insert(task.coarse.candidates.end(), more.candidates.begin(), more.candidates.end());
  });
  count_clutter(photo, camera, prepared.blur, &jig, threads, models, tasks);
  return tasks;
}

PreparedPhoto prepare_photo(const Photo& photo, const Camera& camera, const Fixture& fixture,
                            const std::optional<FixturePlacement>& marked, const SearchRange& range, int threads,
                            EdgeModelStore& models) {
  const std::vector<BlankPlace> expected = expected_places(fixture, marked);
  std::vector<SlotTask> tasks(fixture.slots.size());
  for (std::size_t i = 0; i < tasks.size(); ++i)
    tasks[i] = {fixture.slots[i], expected[i], range_for(fixture, i, range), {}, {}};
  return prepare_tasks(photo, camera, std::move(tasks), threads, models);
}

}  // namespace jigtrue
