#include "jigtrue/measurement/scout_photo.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/base/median.hpp"
#include "jigtrue/detection/propose_places.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/measurement/judge_slot.hpp"
#include "jigtrue/measurement/prepare_photo.hpp"
#include "jigtrue/measurement/reading_order.hpp"
#include "jigtrue/measurement/sketch.hpp"
#include "jigtrue/measurement/working_view.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <iterator>
#include <optional>
#include <stdexcept>
#include <string>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr std::size_t kMostAtOnce = 110;
// kMoreThanChance allows for the places of a slot's window. So many more such windows, of 10 x 12 mm and 6 degrees,
// fill a bed of 600 x 450 mm and half a turn: 67,500, log 11.
constexpr double kMoreThanChanceOnBed = kMoreThanChance + 11.0;
constexpr double kAlike = 0.75;     // of the best proposal's support: these are judged at once, whatever comes of it
constexpr double kFaintest = 0.5;   // of the faintest blank found: what is fainter is left to the grid to find
constexpr double kTouching = 0.1;   // of a blank's area, that proposals may share which are off by some millimetres
constexpr double kOneThing = 0.25;  // two blanks measured that share more are one, read twice

std::string text_of(const char* format, double value) {
  char text[64];
  std::snprintf(text, sizeof text, format, value);
  return text;
}

std::string place_text(const Vector2d& mm) {
  return "X " + text_of("%.0f", mm.x()) + ", Y " + text_of("%.0f", mm.y()) + " mm";
}

std::string counted(std::size_t count, const std::string& one) {
  return std::to_string(count) + " " + one + (count == 1 ? "" : "s");
}

bool is_disc(const Slot& slot) { return std::holds_alternative<DiscBlank>(slot.blank.shape); }

Slot slot_at(const Slot& kind, const BlankPlace& place) {
  Slot slot = kind;
  slot.centre_mm = place.centre_mm;
  slot.axis_deg = is_disc(kind) ? 0.0 : deg_from_rad(place.heading_rad);
  return slot;
}

// What two blanks share of a blank's area on the bed, each `margin_mm` smaller all round.
double shared_area(const Slot& a, const Slot& b, double margin_mm) {
  const double distance_mm = (b.centre_mm - a.centre_mm).norm();
  const double across_mm = largest_girth_mm(a.blank.shape) - 2.0 * margin_mm;
  if (is_disc(a)) {
    const double d = distance_mm / across_mm;
    return d >= 1.0 ? 0.0 : 2.0 / kPi * (std::acos(d) - d * std::sqrt(1.0 - d * d));
  }
  const double along_mm = length_mm(a.blank.shape) - 2.0 * margin_mm;
  if (distance_mm > std::hypot(along_mm, across_mm)) return 0.0;
  const auto box = [&](const Slot& slot) {
    return cv::RotatedRect(cv::Point2f(static_cast<float>(slot.centre_mm.x()), static_cast<float>(slot.centre_mm.y())),
                           cv::Size2f(static_cast<float>(along_mm), static_cast<float>(across_mm)),
                           static_cast<float>(slot.axis_deg));
  };
  std::vector<cv::Point2f> corners;
  if (cv::rotatedRectangleIntersection(box(a), box(b), corners) == cv::INTERSECT_NONE || corners.size() < 3) return 0.0;
  std::vector<cv::Point2f> hull;
  cv::convexHull(corners, hull);
  return cv::contourArea(hull) / (along_mm * across_mm);
}

struct Scout {
  const Photo& photo;
  const Camera& camera;
  double lens_error_px;
  const LikeFile& like;
  const ScoutOptions& options;
  EdgeModelStore& models;
};

// As a check of a fixture file with these slots measures them; a proposal may lie off by more than a jig does.
// `beside`: blanks known already, some of which tell the picture's blur.
std::vector<SlotResult> judged(const Scout& scout, const std::vector<ScoutedPlace>& places,
                               const std::vector<ScoutedPlace>& beside) {
  Fixture fixture = scout.like.fixture;
  for (const ScoutedPlace& place : places) fixture.slots.push_back(place.slot);
  constexpr std::size_t kEnoughBeside = 3;
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
        measure_slot(view.photo, prepared.picture, view.camera, scout.camera, prepared.tasks[i], measure, scout.models);
  });
  return results;
}

// Where a blank lies that was measured for this slot.
Slot lies_at(const Slot& slot, const SlotNumbers& numbers) {
  Slot lies = slot;
  const bool turns_alike = !std::holds_alternative<TurnedBlank>(slot.blank.shape);
  lies.axis_deg = std::remainder(numbers.axis_deg, turns_alike ? 180.0 : 360.0);
  const double along_mm = slot.design ? slot.design->along_mm : 0.0;
  const double axis = rad_from_deg(is_disc(slot) ? slot.axis_deg : numbers.axis_deg);
  if (is_disc(slot)) lies.axis_deg = slot.axis_deg;
  lies.centre_mm = numbers.centre_mm - along_mm * Vector2d(std::cos(axis), std::sin(axis));
  return lies;
}

class Search {
 public:
  explicit Search(const Scout& scout) : scout_(scout) {}

  // Judges these proposals, most support first, as long as the next ones hold blanks.
  void judge(const std::vector<ProposedPlace>& proposed) {
    if (proposed.empty()) return;
    constexpr std::size_t kMostRounds = 8;
    std::vector<bool> tried(proposed.size(), false);
    const double alike = kAlike * proposed.front().support;
    for (std::size_t round = 0; round < kMostRounds; ++round) {
      const std::size_t before = blanks_.size();
      const std::size_t next = std::max<std::size_t>(before == 0 ? 12 : 3, before / 2);
      std::vector<ScoutedPlace> places;
      for (std::size_t i = 0; i < proposed.size() && places.size() < (round == 0 ? kMostAtOnce : next); ++i) {
        if (proposed[i].support < (round == 0 ? alike : kFaintest * faintest())) break;
        const Slot slot = slot_at(scout_.like.kind, proposed[i].place);
        if (tried[i] || meets(slot, blanks_, kTouching) || meets(slot, places, kTouching)) continue;
        tried[i] = true;
        places.push_back({slot, {}, proposed[i].support});
      }
      if (places.empty()) return;
      take(std::move(places));
      if (round > 0 && blanks_.size() == before) return;
    }
  }

  // Judges the few best of these, of other sizes, that no blank found explains: neither by lying there itself nor by
  // having one of its sides there.
  void judge_other_sizes(const std::vector<ProposedPlace>& proposed, double least_support, std::size_t most) {
    std::vector<ScoutedPlace> places;
    for (const ProposedPlace& other : proposed) {
      if (places.size() == most || other.support < least_support) break;
      const Slot slot = slot_at(scout_.like.kind, other.place);
      if (meets(slot, blanks_, kTouching) || meets(slot, others_, kTouching) || meets(slot, places, kTouching))
        continue;
      if (std::any_of(blanks_.begin(), blanks_.end(),
                      [&](const ScoutedPlace& blank) { return side_by_side(blank.slot, slot, other.place.girth_mm); }))
        continue;
      places.push_back({slot, {}, other.support});
    }
    if (!places.empty()) take(std::move(places));
  }

  // What lies where the grid has a slot: a blank must only do there what it must in any slot. Nothing where none does.
  std::vector<std::optional<ScoutedPlace>> look_in(const std::vector<Slot>& slots, const RegularGrid& grid,
                                                   std::vector<SlotResult>& seen) {
    std::vector<ScoutedPlace> places;
    places.reserve(slots.size());
    for (const Slot& slot : slots) places.push_back({slot, {}, 0.0});
    seen = judged(scout_, places, blanks_);
    std::vector<std::optional<ScoutedPlace>> there(slots.size());
    for (std::size_t i = 0; i < slots.size(); ++i) {
      if (seen[i].state != SlotState::found || !seen[i].numbers || !fits(grid, *seen[i].numbers)) continue;
      there[i] = ScoutedPlace{lies_at(slots[i], *seen[i].numbers), seen[i], 0.0};
      blanks_.push_back(*there[i]);
    }
    std::erase_if(others_, [&](const ScoutedPlace& other) { return meets(other.slot, blanks_, kOneThing); });
    return there;
  }
  // What another load of the same jig holds: a slot's blanks of all loads tell where it lies by their mean.
  void add_load(const std::vector<ScoutedPlace>& more) {
    for (const ScoutedPlace& blank : more) {
      const auto same = std::find_if(blanks_.begin(), blanks_.end(), [&](const ScoutedPlace& known) {
        return shared_area(known.slot, blank.slot, 0.0) > kOneThing;
      });
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
  void leave_out(std::size_t blank) {
    others_.push_back(std::move(blanks_[blank]));
    blanks_.erase(blanks_.begin() + static_cast<std::ptrdiff_t>(blank));
  }

  [[nodiscard]] const std::vector<ScoutedPlace>& blanks() const { return blanks_; }
  [[nodiscard]] const std::vector<ScoutedPlace>& others() const { return others_; }

 private:
  const Scout& scout_;
  std::vector<ScoutedPlace> blanks_;
  std::vector<ScoutedPlace> others_;

  // The least support of a blank found so far.
  [[nodiscard]] double faintest() const {
    double least = blanks_.empty() ? 0.0 : blanks_.front().support;
    for (const ScoutedPlace& blank : blanks_) least = std::min(least, blank.support);
    return least;
  }

  // About as far from its slot's middle as the other blanks, or as blanks that are few may be.
  static bool fits(const RegularGrid& grid, const SlotNumbers& numbers) {
    constexpr double kSigmas = 4.0;
    return std::abs(numbers.across_mm) <= std::max(kSigmas * grid.scatter_across_mm, 3.0) &&
           std::abs(numbers.along_mm.value_or(0.0)) <= std::max(kSigmas * grid.scatter_along_mm, 4.0) &&
           std::abs(numbers.rotation_deg) <= std::max(kSigmas * grid.scatter_turn_deg, 3.0);
  }

  // Whether what lies there may have one of the blank's own sides for its own.
  static bool side_by_side(const Slot& blank, const Slot& other, double other_girth_mm) {
    constexpr double kOneSide_mm = 2.5;
    const double girth = largest_girth_mm(blank.blank.shape);
    const Vector2d away = other.centre_mm - blank.centre_mm;
    if (is_disc(blank)) return std::abs(away.norm() - girth - 0.5 * other_girth_mm) < kOneSide_mm;
    const double axis = rad_from_deg(blank.axis_deg);
    const double across = std::abs(-std::sin(axis) * away.x() + std::cos(axis) * away.y());
    return std::abs(across - girth - 0.5 * other_girth_mm) < kOneSide_mm;
  }

  static bool meets(const Slot& slot, const std::vector<ScoutedPlace>& places, double share) {
    return std::any_of(places.begin(), places.end(),
                       [&](const ScoutedPlace& other) { return shared_area(slot, other.slot, 0.0) > share; });
  }

  void take(std::vector<ScoutedPlace> places) {
    const std::vector<SlotResult> results = judged(scout_, places, blanks_);
    for (std::size_t i = 0; i < places.size(); ++i) {
      ScoutedPlace& place = places[i];
      place.measured = results[i];
      const bool sure =
          results[i].state == SlotState::found && results[i].numbers && results[i].log_ratio >= kMoreThanChanceOnBed;
      if (results[i].numbers) place.slot = lies_at(place.slot, *results[i].numbers);
      if (!sure)
        others_.push_back(std::move(place));
      else if (!is_read_again(place))
        blanks_.push_back(std::move(place));
    }
    std::erase_if(others_, [&](const ScoutedPlace& other) { return meets(other.slot, blanks_, kOneThing); });
  }

  // The same blank read once more: the reading with more evidence stays.
  bool is_read_again(const ScoutedPlace& place) {
    for (ScoutedPlace& known : blanks_) {
      if (shared_area(place.slot, known.slot, 0.0) <= kOneThing) continue;
      if (place.measured.log_ratio > known.measured.log_ratio) known = place;
      return true;
    }
    return false;
  }
};

// The sides of the picture that a blank's outline runs over; empty where it lies within.
std::string runs_off(const Camera& camera, const Slot& slot, double margin_px = 3.0) {
  const double axis = rad_from_deg(slot.axis_deg);
  const Vector2d along(std::cos(axis), std::sin(axis));
  const Vector2d across(-along.y(), along.x());
  const double half_length = 0.5 * length_mm(slot.blank.shape);
  const double half_girth = is_disc(slot) ? 0.0 : 0.5 * largest_girth_mm(slot.blank.shape);
  const double height = is_flat(slot.blank.shape) ? top_face_mm(slot.blank.shape, slot.seat)
                                                  : resting_axis(slot.blank.shape, slot.seat).height_at_start_mm;
  std::string side;
  for (const Vector2d& corner : {Vector2d(1, 1), Vector2d(1, -1), Vector2d(-1, 1), Vector2d(-1, -1)}) {
    const Vector2d mm = slot.centre_mm + corner.x() * half_length * along + corner.y() * half_girth * across;
    const auto px = project_bed_point(camera, {mm.x(), mm.y(), height});
    if (!px || px->x() < margin_px)
      side = "left";
    else if (px->x() > camera.lens.width_px - 1 - margin_px)
      side = "right";
    else if (px->y() < margin_px)
      side = "upper";
    else if (px->y() > camera.lens.height_px - 1 - margin_px)
      side = "lower";
  }
  return side;
}

double usual_support(const std::vector<ScoutedPlace>& blanks) {
  std::vector<double> supports;
  supports.reserve(blanks.size());
  for (const ScoutedPlace& blank : blanks) supports.push_back(blank.support);
  return median(supports).value_or(0.0);
}

std::vector<const ScoutedPlace*> of_another_size(const std::vector<ScoutedPlace>& others) {
  std::vector<const ScoutedPlace*> list;
  for (const ScoutedPlace& other : others)
    if (other.measured.state == SlotState::mismatch && other.measured.log_ratio >= kMoreThanChanceOnBed)
      list.push_back(&other);
  return list;
}

void refuse_cut(const Scout& scout, const Search& search) {
  constexpr double kAsPlain = 0.5;  // of the support that whole blanks have: half of it is seen
  const double least = kAsPlain * usual_support(search.blanks());
  const auto refuse = [&](const ScoutedPlace& place) {
    const std::string side = runs_off(scout.camera, place.slot);
    if (side.empty()) return;
    throw input_error(scout.photo.file,
                      "a blank about " + place_text(place.slot.centre_mm) + " runs off the picture's " + side + " edge",
                      "bring the whole jig into the picture, or take that blank out");
  };
  for (const ScoutedPlace& blank : search.blanks()) refuse(blank);
  for (const ScoutedPlace& other : search.others())
    if (other.measured.state != SlotState::empty && other.support >= least) refuse(other);
}

// A place of the grid that holds no whole blank, since the picture ends there.
void refuse_cut_slots(const Scout& scout, const std::vector<ScoutedSlot>& slots) {
  for (const ScoutedSlot& slot : slots) {
    if (slot.blank) continue;
    const std::string side = runs_off(scout.camera, slot.slot);
    if (!side.empty())
      throw input_error(
          scout.photo.file,
          "a slot of the row, about " + place_text(slot.slot.centre_mm) + ", runs off the picture's " + side + " edge",
          "bring the whole jig into the picture");
  }
}

void refuse_overlaps(const Scout& scout, const std::vector<ScoutedPlace>& blanks) {
  constexpr double kMargin_mm = 0.7;  // blanks may touch
  for (std::size_t i = 0; i < blanks.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      if (shared_area(blanks[i].slot, blanks[j].slot, kMargin_mm) > 0.0)
        throw input_error(scout.photo.file,
                          "two blanks lie one over the other, about " +
                              place_text(0.5 * (blanks[i].slot.centre_mm + blanks[j].slot.centre_mm)),
                          "lay them apart, each in its slot");
}

[[noreturn]] void refuse_another_size(const Scout& scout, const std::vector<const ScoutedPlace*>& others) {
  throw input_error(scout.photo.file,
                    counted(others.size(), "blank") + " of another size: " + others.front()->measured.reasons.front(),
                    "measure a blank with callipers and correct the file's \"blank\"");
}

void refuse_two_kinds(const Scout& scout, const Search& search) {
  const auto others = of_another_size(search.others());
  const std::size_t alike = search.blanks().size();
  // a single one that fits among others that do not fits by chance
  if (others.size() > 2 * alike || (alike == 1 && !others.empty())) refuse_another_size(scout, others);
  // one odd blank among several is a mistake in loading, which a check tells
  const bool several = others.size() >= 2 && 3 * others.size() >= alike;
  const bool among_two = !others.empty() && alike <= 2;
  if (!several && !among_two) return;
  throw input_error(scout.photo.file,
                    "two kinds of blanks: " + counted(search.blanks().size(), "blank") + " as declared, and " +
                        std::to_string(others.size()) + " whose " + others.front()->measured.reasons.front(),
                    "load the jig with one kind and scout it, then the other");
}

std::string declared_size(const Blank& blank) {
  const std::string kind = std::string("a ") + kind_name(blank.shape) + " blank of ";
  const std::string girth = text_of("%g", largest_girth_mm(blank.shape));
  if (std::holds_alternative<DiscBlank>(blank.shape)) return kind + girth + " mm";
  return kind + text_of("%g", length_mm(blank.shape)) + " x " + girth + " mm";
}

// Where no blank was found and the plainest outlines end at the picture's rim, the jig is not in the picture as a
// whole.
void refuse_all_cut(const Scout& scout, const Search& search) {
  constexpr double kNearRim_mm = 8.0;
  constexpr std::size_t kLookedAt = 3;
  constexpr double kHalfABlank = 0.2;  // support: of its sides and one end
  std::vector<ScoutedPlace> plainest = search.others();
  std::stable_sort(plainest.begin(), plainest.end(),
                   [](const ScoutedPlace& a, const ScoutedPlace& b) { return a.support > b.support; });
  if (plainest.size() > kLookedAt) plainest.resize(kLookedAt);
  for (const ScoutedPlace& place : plainest) {
    const Vector2d& at = place.slot.centre_mm;
    const double margin_px = kNearRim_mm * px_per_mm_at(scout.camera, {at.x(), at.y(), 0.0});
    const std::string side = runs_off(scout.camera, place.slot, margin_px);
    if (place.support >= kHalfABlank && place.measured.state != SlotState::empty && !side.empty())
      throw input_error(scout.photo.file,
                        "no whole blank is seen: what looks most like one runs off the picture's " + side + " edge",
                        "bring the whole jig into the picture");
  }
}

[[noreturn]] void refuse_none(const Scout& scout, Search& search, const std::vector<ProposedPlace>& other_sizes) {
  search.judge_other_sizes(other_sizes, 0.0, 12);
  const auto others = of_another_size(search.others());
  if (!others.empty()) refuse_another_size(scout, others);
  refuse_all_cut(scout, search);
  throw input_error(scout.photo.file,
                    "no blank is seen: nothing on the bed has the outline of " + declared_size(scout.like.kind.blank),
                    "see that the photo shows the loaded jig by this camera, and measure blank and seat again");
}

// Other blanks beside these lie as they do.
std::vector<double> headings_of(const std::vector<ScoutedPlace>& blanks) {
  std::vector<double> headings;
  headings.reserve(blanks.size());
  for (const ScoutedPlace& blank : blanks) headings.push_back(rad_from_deg(blank.slot.axis_deg));
  return headings;
}

std::vector<Slot> slots_of(const std::vector<ScoutedPlace>& blanks) {
  std::vector<Slot> slots;
  slots.reserve(blanks.size());
  for (const ScoutedPlace& blank : blanks) slots.push_back(blank.slot);
  return slots;
}

Slot grid_slot(const Slot& kind, const RegularGrid& grid, const GridIndex& at) {
  Slot slot = kind;
  slot.centre_mm = grid.place_mm(at);
  slot.axis_deg = grid.axis_deg;
  return slot;
}

// Lies over one of the grid's slots.
bool meets_grid(const Slot& slot, const RegularGrid& grid) {
  for (int row = 0; row < grid.rows; ++row)
    for (int column = 0; column < grid.columns; ++column)
      if (shared_area(grid_slot(slot, grid, {row, column}), slot, 0.0) > 0.0) return true;
  return false;
}

// The grid that the blanks stand in; a single one that disturbs it, by lying between its slots, is no blank.
std::optional<RegularGrid> grid_of(Search& search) {
  std::vector<Slot> slots = slots_of(search.blanks());
  if (auto grid = regular_grid(slots)) return grid;
  constexpr std::size_t kFewest = 4;
  if (slots.size() < kFewest) return std::nullopt;
  std::optional<RegularGrid> best;
  std::size_t disturbs = 0;
  for (std::size_t left_out = 0; left_out < slots.size(); ++left_out) {
    std::vector<Slot> rest = slots;
    rest.erase(rest.begin() + static_cast<std::ptrdiff_t>(left_out));
    auto grid = regular_grid(rest);
    if (!grid || !meets_grid(slots[left_out], *grid)) continue;
    if (best && best->scatter_across_mm + best->scatter_along_mm <= grid->scatter_across_mm + grid->scatter_along_mm)
      continue;
    best = std::move(grid);
    disturbs = left_out;
  }
  if (best) search.leave_out(disturbs);
  return best;
}

// The grid's places that hold no blank: within it, and one step beyond it where the view from above shows an outline.
std::vector<GridIndex> open_places(const RegularGrid& grid, const Slot& kind,
                                   const std::vector<ProposedPlace>& proposed, bool beyond) {
  constexpr double kNear_mm = 6.0;
  std::vector<GridIndex> open;
  const int more_rows = beyond && grid.row_pitch ? 1 : 0;
  const int more_columns = beyond && grid.column_pitch ? 1 : 0;
  for (int row = -more_rows; row < grid.rows + more_rows; ++row) {
    for (int column = -more_columns; column < grid.columns + more_columns; ++column) {
      const GridIndex at{row, column};
      if (grid.holds(at)) continue;
      const bool within = row >= 0 && row < grid.rows && column >= 0 && column < grid.columns;
      const Slot slot = grid_slot(kind, grid, at);
      const bool proposed_there = std::any_of(proposed.begin(), proposed.end(), [&](const ProposedPlace& place) {
        const double turn = std::remainder(deg_from_rad(place.place.heading_rad) - slot.axis_deg, 180.0);
        return (place.place.centre_mm - slot.centre_mm).norm() < kNear_mm && (is_disc(kind) || std::abs(turn) < 4.0);
      });
      if (within || proposed_there) open.push_back(at);
    }
  }
  return open;
}

std::string gap_note(const SlotResult& seen) {
  if (seen.state == SlotState::empty) return "empty in the photo: the row has a gap here";
  return "in the photo: " +
         (seen.reasons.empty() ? std::string("not a blank that lies as the others do") : seen.reasons.front());
}

// Most blanks first, then the grid's gaps.
std::vector<ScoutedSlot> slots_in_grid(const Scout& scout, Search& search, std::optional<RegularGrid>& grid,
                                       const std::vector<ProposedPlace>& proposed) {
  std::vector<ScoutedSlot> slots;
  // blanks found beyond the grid's ends make it longer, and the place of every slot surer
  for (bool grown = grid.has_value(); grown;) {
    const std::vector<GridIndex> open = open_places(*grid, scout.like.kind, proposed, true);
    std::vector<Slot> places;
    places.reserve(open.size());
    for (const GridIndex& at : open) places.push_back(grid_slot(scout.like.kind, *grid, at));
    if (places.empty() || places.size() > search.blanks().size() + 2) break;
    std::vector<SlotResult> seen;
    const auto there = search.look_in(places, *grid, seen);
    grown = std::any_of(there.begin(), there.end(), [](const auto& blank) { return blank.has_value(); });
    if (grown) {
      auto more = regular_grid(slots_of(search.blanks()));
      if (!more) break;
      grid = std::move(more);
      continue;
    }
    for (std::size_t i = 0; i < open.size(); ++i) {
      const bool within =
          open[i].row >= 0 && open[i].row < grid->rows && open[i].column >= 0 && open[i].column < grid->columns;
      if (within) slots.push_back({places[i], std::nullopt, gap_note(seen[i]), {}});
    }
  }
  for (std::size_t i = 0; i < search.blanks().size(); ++i) {
    const ScoutedPlace& blank = search.blanks()[i];
    Slot slot = blank.slot;
    if (grid && i < grid->index.size() && grid->index[i]) {
      slot = grid_slot(scout.like.kind, *grid, *grid->index[i]);
      // which end is which is the blank's to say
      if (std::cos(rad_from_deg(slot.axis_deg - blank.slot.axis_deg)) < 0.0 &&
          std::holds_alternative<TurnedBlank>(slot.blank.shape))
        slot.axis_deg = std::remainder(slot.axis_deg + 180.0, 360.0);
    }
    slots.push_back({slot, blank, "", {}});
  }
  return slots;
}

// What the photo knows each blank to, all of them alike, comes beside their scatter: it turns a pitch as its ends do.
void allow_for_measuring(const std::vector<ScoutedPlace>& blanks, RegularGrid& grid) {
  std::vector<double> across;
  std::vector<double> along;
  for (const ScoutedPlace& blank : blanks) {
    const ExpandedUncertainty& u = blank.measured.numbers->uncertainty;
    across.push_back(u.across_mm);
    if (u.along_mm) along.push_back(*u.along_mm);
  }
  const double u_across = median(across).value_or(0.0);
  const double u_along = median(along).value_or(u_across);
  const auto widen = [](std::optional<Pitch>& pitch, double u_mm, int steps) {
    if (pitch) pitch->u_mm = std::hypot(pitch->u_mm, std::sqrt(2.0) * u_mm / std::max(steps - 1, 1));
  };
  widen(grid.row_pitch, u_across, grid.rows);
  widen(grid.column_pitch, u_along, grid.columns);
  grid.u_across_mm = std::hypot(grid.u_across_mm, u_across);
  grid.u_along_mm = std::hypot(grid.u_along_mm, u_along);
}

void name_in_reading_order(std::vector<ScoutedSlot>& named) {
  std::vector<Slot> slots;
  slots.reserve(named.size());
  for (const ScoutedSlot& each : named) slots.push_back(each.slot);
  std::vector<ScoutedSlot> ordered;
  for (const std::size_t i : reading_order(slots)) {
    ordered.push_back(named[i]);
    ordered.back().slot.id = std::to_string(ordered.size());
  }
  named = std::move(ordered);
}

// Blanks that the photo of the empty jig shows as well are none: their slots are gaps.
void judge_by_empty_photo(const Scout& scout, ScoutResult& result) {
  if (scout.options.empty == nullptr) return;
  Fixture fixture = scout.like.fixture;
  for (const ScoutedSlot& slot : result.slots) fixture.slots.push_back(slot.slot);
  CheckOptions check;
  check.empty = scout.options.empty;
  check.lens_error_px = scout.lens_error_px;
  check.threads = scout.options.threads;
  const CheckResult checked = check_photo(scout.photo, scout.camera, fixture, check, scout.models);
  result.notes = checked.notes;
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    ScoutedSlot& slot = result.slots[i];
    if (!slot.blank || checked.slots[i].state != SlotState::empty) continue;
    result.others.push_back({slot.slot, checked.slots[i], slot.blank->support});
    slot.blank.reset();
    slot.note = gap_note(checked.slots[i]);
  }
  if (!result.grid) {
    std::erase_if(result.slots, [](const ScoutedSlot& slot) { return !slot.blank; });
    name_in_reading_order(result.slots);
  }
  if (std::none_of(result.slots.begin(), result.slots.end(), [](const ScoutedSlot& slot) { return slot.blank; }))
    throw input_error(scout.photo.file, "it shows no blank that the photo of the empty jig does not show as well",
                      "load the jig, or give another --empty");
}

// What the declared blank was proposed to lie at; the search holds what came of it.
std::vector<ProposedPlace> search_bed(const Scout& scout, Search& search) {
  refuse_other_size(scout.photo, scout.camera.lens);
  const Slot& kind = scout.like.kind;
  const BedSearch bed(scout.photo, scout.camera, kind.blank, kind.seat, scout.options.threads);
  std::vector<ProposedPlace> proposed = bed.declared();
  search.judge(proposed);
  if (search.blanks().empty()) refuse_none(scout, search, bed.other_sizes({}));
  constexpr double kAsPlain = 0.75;  // of the support of what was found
  search.judge_other_sizes(bed.other_sizes(headings_of(search.blanks())), kAsPlain * usual_support(search.blanks()), 2);
  refuse_cut(scout, search);
  refuse_two_kinds(scout, search);
  return proposed;
}

}  // namespace

bool ScoutResult::has_gaps() const {
  return std::any_of(slots.begin(), slots.end(), [](const ScoutedSlot& slot) { return !slot.blank; });
}

ScoutResult scout_photos(const std::vector<ScoutedLoad>& loads, const LikeFile& like, const ScoutOptions& options,
                         EdgeModelStore& models) {
  if (loads.empty()) throw std::logic_error("scout_photos: no photo");
  std::vector<ScoutedPlace> further;
  for (std::size_t i = 1; i < loads.size(); ++i) {
    const Scout scout{loads[i].photo, loads[i].camera, loads[i].lens_error_px, like, options, models};
    Search search(scout);
    (void)search_bed(scout, search);
    refuse_overlaps(scout, search.blanks());
    further.insert(further.end(), search.blanks().begin(), search.blanks().end());
  }
  const Scout scout{loads[0].photo, loads[0].camera, loads[0].lens_error_px, like, options, models};
  Search search(scout);
  const std::vector<ProposedPlace> proposed = search_bed(scout, search);
  search.add_load(further);

  ScoutResult result;
  result.grid = grid_of(search);
  refuse_overlaps(scout, search.blanks());
  result.slots = slots_in_grid(scout, search, result.grid, proposed);
  refuse_cut_slots(scout, result.slots);
  name_in_reading_order(result.slots);
  for (ScoutedSlot& slot : result.slots)
    slot.sketch = sketch_slot(scout.camera, slot.slot, nominal_place(slot.slot), std::nullopt);
  if (result.grid) allow_for_measuring(search.blanks(), *result.grid);
  result.others = search.others();
  judge_by_empty_photo(scout, result);
  std::stable_sort(result.others.begin(), result.others.end(),
                   [](const ScoutedPlace& a, const ScoutedPlace& b) { return a.support > b.support; });
  return result;
}

ScoutResult scout_photo(const Photo& photo, const Camera& camera, const LikeFile& like, const ScoutOptions& options,
                        EdgeModelStore& models) {
  return scout_photos({{photo, camera, 0.0}}, like, options, models);
}

}  // namespace jigtrue
