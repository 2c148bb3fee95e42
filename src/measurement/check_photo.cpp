#include "jigtrue/measurement/check_photo.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/measurement/fixture_marks.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>

namespace jigtrue {
namespace {

std::string size_text(int width, int height) { return std::to_string(width) + " x " + std::to_string(height); }

// Half the distance to the nearest other slot bounds the search: the next blank must not be taken for this one.
SearchRange range_for(const Fixture& fixture, std::size_t index, SearchRange range) {
  const Slot& slot = fixture.slots[index];
  const double angle = rad_from_deg(slot.axis_deg);
  const Vector2d along(std::cos(angle), std::sin(angle));
  const Vector2d across(-along.y(), along.x());
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

// A blank that lies off in its slot, apart from where the fixture as a whole stands.
void note_strays(const Fixture& fixture, const FixturePlacement& marked, CheckResult& result) {
  constexpr double kWorthSaying_mm = 0.25;
  const Vector2d centre = common_centre_mm(fixture);
  std::string list;
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    const SlotResult& slot = result.slots[i];
    if (!slot.numbers) continue;
    const double heading = rad_from_deg(fixture.slots[i].axis_deg + marked.turn_deg);
    const Vector2d across(-std::sin(heading), std::cos(heading));
    const double off = (slot.numbers->centre_mm - placed_mm(marked, centre, slot.nominal_centre_mm)).dot(across);
    if (std::abs(off) < std::max(kWorthSaying_mm, slot.numbers->uncertainty.across_mm)) continue;
    char text[64];
    std::snprintf(text, sizeof text, "%+.2f mm across", off);
    list += (list.empty() ? "slot " : ", slot ") + slot.id + " by " + text;
  }
  if (!list.empty())
    result.notes.push_back("Beside the fixture's own shift and turn, blanks lie off in their slots: " + list + ".");
}

double middle_of(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

// The picture's blur: the median over the few slots whose blanks stand out best.
PictureBlur picture_blur(const Photo& photo, const Camera& camera, const Fixture& fixture,
                         const std::vector<BlankPlace>& expected, const CheckOptions& options) {
  constexpr std::size_t kSearched = 6;
  constexpr std::size_t kMeasured = 3;
  struct Sighting {
    double support = 0.0;
    std::size_t slot = 0;
    BlankPlace place;
  };
  std::vector<Sighting> sightings;
  const std::size_t step = std::max<std::size_t>(1, fixture.slots.size() / kSearched);
  for (std::size_t i = 0; i < fixture.slots.size(); i += step) {
    const Slot& slot = fixture.slots[i];
    const CoarseFinding finding =
        search_slot(photo, camera, slot.blank, slot.seat, expected[i], range_for(fixture, i, options.range));
    if (finding.candidates.empty()) continue;
    const Candidate& best = finding.candidates.front();
    sightings.push_back({best.sides(), i, best.place});
  }
  std::stable_sort(sightings.begin(), sightings.end(),
                   [](const Sighting& a, const Sighting& b) { return a.support > b.support; });
  EdgeModelStore models;
  std::vector<double> luma;
  std::vector<double> chroma;
  for (std::size_t i = 0; i < std::min(kMeasured, sightings.size()); ++i) {
    const Slot& slot = fixture.slots[sightings[i].slot];
    BlankPlace place = sightings[i].place;
    place.girth_mm = 0.0;
    OutlineFitOptions fit_options;
    fit_options.girth_sigma_mm = slot.blank.diameter_tolerance_mm / std::sqrt(3.0);
    fit_options.length_centre_mm = place.length_mm;
    fit_options.length_sigma_mm = 0.5;
    const auto fit = fit_outline(photo, camera, slot.blank, slot.seat, place, fit_options, models);
    if (!fit) continue;
    const PictureBlur blur = estimate_blur(photo, camera, slot.blank, slot.seat, fit->place, models);
    luma.push_back(blur.luma_px);
    chroma.push_back(blur.chroma_px);
  }
  if (luma.empty()) return PictureBlur{};
  return {middle_of(luma), middle_of(chroma)};
}

}  // namespace

void refuse_other_size(const Photo& photo, const Lens& lens) {
  if (photo.width_px() != lens.width_px || photo.height_px() != lens.height_px)
    throw input_error(photo.file,
                      "the photo is " + size_text(photo.width_px(), photo.height_px()) + " px, the calibration " +
                          size_text(lens.width_px, lens.height_px) + " px",
                      "take it with the same camera, resolution and orientation as the calibration's photos");
}

CheckResult check_photo(const Photo& photo, const Camera& camera, const Fixture& fixture, const CheckOptions& options) {
  refuse_other_size(photo, camera.lens);
  CheckResult result;
  result.photo_file = photo.file;
  result.fixture_name = fixture.name;
  result.width_px = photo.width_px();
  result.height_px = photo.height_px();
  result.slots.resize(fixture.slots.size());

  std::optional<FixturePlacement> marked;
  if (!fixture.marks_mm.empty()) {
    const auto found = place_fixture_by_marks(photo.luma, camera, fixture, options.lens_error_px);
    if (found) {
      marked = found->placement;
      result.notes = found->notes;
    } else {
      result.notes.push_back("The fixture's marks do not tell where it stands: " + found.reason() +
                             "; its slots' nominal places were searched.");
    }
  }
  const std::vector<BlankPlace> expected = expected_places(fixture, marked);

  MeasureOptions measure;
  measure.lens_error_px = options.lens_error_px;
  measure.blur = picture_blur(photo, camera, fixture, expected, options);

  // Each slot is measured on its own, so the order in which threads take them cannot matter.
  std::vector<EdgeModelStore> models(static_cast<std::size_t>(std::max(options.threads, 1)));
  in_parallel(fixture.slots.size(), options.threads, [&](std::size_t i, std::size_t worker) {
    MeasureOptions own = measure;
    own.range = range_for(fixture, i, options.range);
    result.slots[i] = measure_slot(photo, camera, fixture.slots[i], expected[i], own, models[worker]);
  });

  result.placement = marked ? marked : placement_from_slots(fixture, result.slots);
  if (marked) note_strays(fixture, *marked, result);
  return result;
}

}  // namespace jigtrue
