#include "measurement/blank_search.hpp"

#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/measurement/prepare_photo.hpp"
#include "jigtrue/measurement/working_view.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "measurement/bed_slots.hpp"

namespace jigtrue {
namespace {

constexpr std::size_t kMostAtOnce = 110;      // judged in one round
constexpr std::size_t kPlainestFirst = 12;    // judged first: enough to tell what a blank's support is
constexpr std::size_t kPlainestWithout = 36;  // where none of these is a blank, hardly any other is
constexpr double kAlike = 0.75;               // of the best proposal's support: these are the plainest
constexpr double kFaintest = 0.5;   // of the faintest blank found: what is fainter is left to the grid to find
constexpr double kTouching = 0.1;   // of a blank's area, that proposals may share which are off by some millimetres
constexpr double kOneThing = 0.25;  // two blanks measured that share more are one, read twice

// As a check of a fixture file with these slots measures them; a proposal may lie off by more than a jig does.
// `beside`: blanks known already, some of which tell the picture's blur.
std::vector<SlotResult> judged(const Scout& scout, const std::vector<ScoutedPlace>& places,
                               const std::vector<ScoutedPlace>& beside) {
  Fixture fixture = scout.like.fixture;
  for (const ScoutedPlace& place : places) fixture.slots.push_back(place.slot);
  constexpr std::size_t kEnoughBeside = 3;  // blanks already found that tell the blur with those looked at
  for (std::size_t i = 0; i < std::min(kEnoughBeside, beside.size()); ++i) fixture.slots.push_back(beside[i].slot);
  SearchRange range;
  range.across_mm = 7.0;
  range.along_mm = 8.0;
  const WorkingView view = working_view(scout.photo, scout.camera, fixture);
  const PreparedPhoto prepared =
      prepare_photo(view.photo, view.camera, fixture, std::nullopt, range, scout.options.threads, scout.models);
  MeasureOptions measure;
  measure.lens_error_px = scout.lens_error_px / view.shrink;
  measure.blur = prepared.blur;
  std::vector<SlotResult> results(places.size());
  in_parallel(places.size(), scout.options.threads, [&](std::size_t i, std::size_t) {
    results[i] =
        measure_slot(view.photo, prepared.picture, view.camera, scout.camera, prepared.tasks[i], measure, scout.models)
            .result;
  });
  return results;
}

// Where a blank lies that was measured for this slot.
Slot lies_at(const Slot& slot, const SlotNumbers& numbers) {
  Slot lies = slot;
  const bool turns_alike = !std::holds_alternative<TurnedBlank>(slot.blank.shape);
  lies.axis_deg = std::remainder(numbers.axis_deg, turns_alike ? 180.0 : 360.0);
  if (is_disc(slot)) lies.axis_deg = slot.axis_deg;
  lies.centre_mm = numbers.blank.centre_mm;
  return lies;
}

// Which way round a blank lies is its own to say: no slot asks for either yet.
void take_as_it_lies(ScoutedPlace& place) {
  SlotResult& measured = place.measured;
  if (!measured.turned_about || !measured.numbers) return;
  measured.state = SlotState::found;
  measured.reasons.clear();
  measured.numbers->axis_deg += 180.0;
}

// About as far from its slot's middle as the other blanks, or as blanks that are few may be.
bool fits(const RegularGrid& grid, const Slot& slot, const Slot& blank) {
  constexpr double kSigmas = 4.0;  // of the grid's own scatter
  const Vector2d along = unit_vector(rad_from_deg(slot.axis_deg));
  const Vector2d off_mm = blank.centre_mm - slot.centre_mm;
  const double turn_deg = is_disc(slot) ? 0.0 : std::remainder(blank.axis_deg - slot.axis_deg, 180.0);
  return std::abs(off_mm.dot(turned_left(along))) <= std::max(kSigmas * grid.scatter_across_mm, 3.0) &&
         std::abs(off_mm.dot(along)) <= std::max(kSigmas * grid.scatter_along_mm, 4.0) &&
         std::abs(turn_deg) <= std::max(kSigmas * grid.scatter_turn_deg, 3.0);
}

// Whether what lies there may have one of the blank's own sides for its own.
bool side_by_side(const Slot& blank, const Slot& other, double other_girth_mm) {
  constexpr double kOneSide_mm = 2.5;  // nearer sides are one edge, taken for two blanks' sides
  const double girth = largest_girth_mm(blank.blank.shape);
  const Vector2d away = other.centre_mm - blank.centre_mm;
  if (is_disc(blank)) return std::abs(away.norm() - girth - 0.5 * other_girth_mm) < kOneSide_mm;
  const double axis = rad_from_deg(blank.axis_deg);
  const double across = std::abs(-std::sin(axis) * away.x() + std::cos(axis) * away.y());
  return std::abs(across - girth - 0.5 * other_girth_mm) < kOneSide_mm;
}

bool meets(const Slot& slot, const std::vector<ScoutedPlace>& places, double share) {
  return std::any_of(places.begin(), places.end(),
                     [&](const ScoutedPlace& other) { return shared_area(slot, other.slot, 0.0) > share; });
}

// One blank, seen twice. What lies across another is one of its own.
bool is_same_thing(const Slot& a, const Slot& b) { return shared_area(a, b, 0.0) > kOneThing && !lies_across(a, b); }

bool is_one_of(const Slot& slot, const std::vector<ScoutedPlace>& places) {
  return std::any_of(places.begin(), places.end(),
                     [&](const ScoutedPlace& other) { return is_same_thing(slot, other.slot); });
}

}  // namespace

void BlankSearch::judge(const std::vector<ProposedPlace>& proposed) {
  if (proposed.empty()) return;
  constexpr std::size_t kMostRounds = 12;  // each of which found some
  std::vector<bool> tried(proposed.size(), false);
  const double alike = kAlike * proposed.front().support;
  bool plainest = true;
  for (std::size_t round = 0; round < kMostRounds; ++round) {
    const std::size_t before = blanks_.size();
    // more at a time, the more blanks there are: to prepare the photo costs as much as to judge some places
    const std::size_t next = before == 0 ? 12 : std::max<std::size_t>(3, before / 2);
    const std::size_t next_plainest = round == 0    ? kPlainestFirst
                                      : before == 0 ? kPlainestWithout - kPlainestFirst
                                                    : std::clamp<std::size_t>(2 * before, 6, kMostAtOnce);
    const std::size_t most = plainest ? next_plainest : next;
    std::vector<ScoutedPlace> places;
    for (std::size_t i = 0; i < proposed.size() && places.size() < most; ++i) {
      if (proposed[i].support < (plainest ? alike : kFaintest * faintest())) break;
      const Slot slot = slot_at(scout_.like.kind, proposed[i].place);
      if (tried[i] || meets(slot, blanks_, kTouching) || meets(slot, places, kTouching)) continue;
      tried[i] = true;
      places.push_back({slot, {}, proposed[i].support});
    }
    if (places.empty() && !plainest) return;
    if (!places.empty()) take(std::move(places));
    const bool found = blanks_.size() > before;
    if (!plainest && !found) return;
    plainest = plainest && (found || (round == 0 && before == 0));
  }
}

void BlankSearch::take_in_line() {
  constexpr std::size_t kFewest = 3;  // blanks that make a line
  // windows of 10 mm along a line of 500 mm, in place of all that a bed has: log 50
  constexpr double kMoreThanChanceInLine = kMoreThanChance + 4.0;
  constexpr double kLine_mm = 8.0;
  constexpr double kTurn_deg = 3.0;
  if (blanks_.size() < kFewest || is_disc(scout_.like.kind)) return;
  const std::vector<ScoutedPlace> line = blanks_;
  const auto in_line = [&](const Slot& slot) {
    return std::all_of(line.begin(), line.end(), [&](const ScoutedPlace& blank) {
      const Vector2d away = slot.centre_mm - blank.slot.centre_mm;
      return std::abs(std::remainder(slot.axis_deg - blank.slot.axis_deg, 180.0)) < kTurn_deg &&
             std::abs(away.dot(unit_vector(rad_from_deg(blank.slot.axis_deg)))) < kLine_mm;
    });
  };
  if (!std::all_of(line.begin(), line.end(), [&](const ScoutedPlace& blank) { return in_line(blank.slot); })) return;
  for (const ScoutedPlace& other : others_) {
    if (other.measured.state == SlotState::found && tells_of_load(other.measured) &&
        other.measured.log_ratio >= kMoreThanChanceInLine && in_line(other.slot) && !meets(other.slot, blanks_, 0.0))
      blanks_.push_back(other);
  }
  std::erase_if(others_, [&](const ScoutedPlace& other) { return is_one_of(other.slot, blanks_); });
}

void BlankSearch::judge_across(const std::vector<ProposedPlace>& proposed) {
  constexpr double kHalfSeen = 0.5;  // support, of the blanks': the one below has lost some of its sides
  constexpr std::size_t kMost = 4;   // looked at below one that was found
  std::vector<ScoutedPlace> places;
  for (const ProposedPlace& each : proposed) {
    if (places.size() == kMost || each.support < kHalfSeen * faintest()) break;
    const Slot slot = slot_at(scout_.like.kind, each.place);
    const auto across = [&](const ScoutedPlace& blank) { return lies_across(slot, blank.slot); };
    if (std::any_of(blanks_.begin(), blanks_.end(), across) && !is_one_of(slot, blanks_) && !is_one_of(slot, others_))
      places.push_back({slot, {}, each.support});
  }
  if (!places.empty()) take(std::move(places));
}

void BlankSearch::judge_other_sizes(const std::vector<ProposedPlace>& proposed, double least_support,
                                    std::size_t most) {
  std::vector<ScoutedPlace> places;
  for (const ProposedPlace& other : proposed) {
    if (places.size() == most || other.support < least_support) break;
    const Slot slot = slot_at(scout_.like.kind, other.place);
    if (meets(slot, blanks_, kTouching) || meets(slot, others_, kTouching) || meets(slot, places, kTouching)) continue;
    if (std::any_of(blanks_.begin(), blanks_.end(),
                    [&](const ScoutedPlace& blank) { return side_by_side(blank.slot, slot, other.place.girth_mm); }))
      continue;
    places.push_back({slot, {}, other.support});
  }
  if (!places.empty()) take(std::move(places));
}

std::vector<std::optional<ScoutedPlace>> BlankSearch::look_in(const std::vector<Slot>& slots, const RegularGrid& grid,
                                                              std::vector<SlotResult>& seen) {
  std::vector<ScoutedPlace> places;
  places.reserve(slots.size());
  for (const Slot& slot : slots) places.push_back({slot, {}, 0.0});
  seen = judged(scout_, places, blanks_);
  std::vector<std::optional<ScoutedPlace>> there(slots.size());
  for (std::size_t i = 0; i < slots.size(); ++i) {
    ScoutedPlace place{slots[i], seen[i], 0.0};
    take_as_it_lies(place);
    const auto lies_there = [&](const ScoutedPlace& blank) {
      return blank.measured.state == SlotState::found && tells_of_load(blank.measured) &&
             fits(grid, slots[i], blank.slot);
    };
    if (place.measured.numbers) place.slot = lies_at(slots[i], *place.measured.numbers);
    if (!lies_there(place)) {
      // found before, from the place proposed, and only not enough for a whole bed
      const auto before = std::find_if(others_.begin(), others_.end(), lies_there);
      if (before == others_.end()) continue;
      place = *before;
    }
    there[i] = std::move(place);
    blanks_.push_back(*there[i]);
  }
  std::erase_if(others_, [&](const ScoutedPlace& other) { return is_one_of(other.slot, blanks_); });
  return there;
}

void BlankSearch::add_load(const std::vector<ScoutedPlace>& more) {
  for (const ScoutedPlace& blank : more) {
    const auto same = std::find_if(blanks_.begin(), blanks_.end(),
                                   [&](const ScoutedPlace& known) { return is_same_thing(known.slot, blank.slot); });
    if (same == blanks_.end()) {
      blanks_.push_back(blank);
      continue;
    }
    ++same->loads;
    const double share = 1.0 / same->loads;
    same->slot.centre_mm += share * (blank.slot.centre_mm - same->slot.centre_mm);
    if (!is_disc(same->slot))
      same->slot.axis_deg += share * std::remainder(blank.slot.axis_deg - same->slot.axis_deg, 180.0);
  }
}

void BlankSearch::leave_out(std::size_t blank) {
  others_.push_back(std::move(blanks_[blank]));
  blanks_.erase(blanks_.begin() + static_cast<std::ptrdiff_t>(blank));
}

// The least support of a blank found so far.
double BlankSearch::faintest() const {
  double least = blanks_.empty() ? 0.0 : blanks_.front().support;
  for (const ScoutedPlace& blank : blanks_) least = std::min(least, blank.support);
  return least;
}

void BlankSearch::take(std::vector<ScoutedPlace> places) {
  const std::vector<SlotResult> results = judged(scout_, places, blanks_);
  for (std::size_t i = 0; i < places.size(); ++i) {
    ScoutedPlace& place = places[i];
    place.measured = results[i];
    take_as_it_lies(place);
    const SlotResult& measured = place.measured;
    const bool sure =
        measured.state == SlotState::found && tells_of_load(measured) && measured.log_ratio >= kMoreThanChanceOnBed;
    if (measured.numbers) place.slot = lies_at(place.slot, *measured.numbers);
    if (!sure)
      others_.push_back(std::move(place));
    else if (!is_read_again(place))
      blanks_.push_back(std::move(place));
  }
  std::erase_if(others_, [&](const ScoutedPlace& other) { return is_one_of(other.slot, blanks_); });
}

// The same blank read once more: the reading with more evidence stays.
bool BlankSearch::is_read_again(const ScoutedPlace& place) {
  for (ScoutedPlace& known : blanks_) {
    if (!is_same_thing(place.slot, known.slot)) continue;
    if (place.measured.log_ratio > known.measured.log_ratio) known = place;
    return true;
  }
  return false;
}

}  // namespace jigtrue
