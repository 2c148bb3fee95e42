#include "jigtrue/measurement/scout_photo.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/base/median.hpp"
#include "jigtrue/detection/propose_places.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/measurement/prepare_photo.hpp"
#include "jigtrue/measurement/reading_order.hpp"
#include "jigtrue/measurement/working_view.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <iterator>
#include <optional>
#include <string>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr std::size_t kMostAtOnce = 110;
// A slot's window holds 100,000 places, and judge_slot's decision allows for those. So many more such windows, of 10 x
// 12 mm and 6 degrees, fill a bed of 600 x 450 mm and half a turn: 67,500, log 11.
constexpr double kMoreThanChanceOnBed = 24.0 + 11.0;
constexpr double kAlike = 0.75;     // of the best proposal's support: these are judged at once, whatever comes of it
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
  const LikeFile& like;
  const ScoutOptions& options;
  EdgeModelStore& models;
};

// As a check of a fixture file with these slots measures them; a proposal may lie off by more than a jig does.
std::vector<SlotResult> judged(const Scout& scout, const std::vector<ScoutedPlace>& places) {
  Fixture fixture = scout.like.fixture;
  for (const ScoutedPlace& place : places) fixture.slots.push_back(place.slot);
  SearchRange range;
  range.across_mm = 7.0;
  range.along_mm = 8.0;
  const WorkingView view = working_view(scout.photo, scout.camera, fixture);
  const PreparedPhoto prepared =
      prepare_photo(view.photo, view.camera, fixture, std::nullopt, range, scout.options.threads, scout.models);
  MeasureOptions measure;
  measure.lens_error_px = scout.options.lens_error_px / view.shrink;
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
        if (round == 0 && proposed[i].support < alike) break;
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

  [[nodiscard]] const std::vector<ScoutedPlace>& blanks() const { return blanks_; }
  [[nodiscard]] const std::vector<ScoutedPlace>& others() const { return others_; }

 private:
  const Scout& scout_;
  std::vector<ScoutedPlace> blanks_;
  std::vector<ScoutedPlace> others_;

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
    const std::vector<SlotResult> results = judged(scout_, places);
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
std::string runs_off(const Camera& camera, const Slot& slot) {
  constexpr double kMargin_px = 3.0;
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
    if (!px || px->x() < kMargin_px)
      side = "left";
    else if (px->x() > camera.lens.width_px - 1 - kMargin_px)
      side = "right";
    else if (px->y() < kMargin_px)
      side = "upper";
    else if (px->y() > camera.lens.height_px - 1 - kMargin_px)
      side = "lower";
  }
  return side;
}

double usual_support(const std::vector<ScoutedPlace>& blanks) {
  std::vector<double> supports;
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

[[noreturn]] void refuse_other_size(const Scout& scout, const std::vector<const ScoutedPlace*>& others) {
  throw input_error(scout.photo.file,
                    counted(others.size(), "blank") + " of another size: " + others.front()->measured.reasons.front(),
                    "measure a blank with callipers and correct the file's \"blank\"");
}

void refuse_two_kinds(const Scout& scout, const Search& search) {
  const auto others = of_another_size(search.others());
  const std::size_t alike = search.blanks().size();
  // a single one that fits among others that do not fits by chance
  if (others.size() > 2 * alike || (alike == 1 && !others.empty())) refuse_other_size(scout, others);
  // one odd blank among several is a mistake in loading, which a check tells
  if (others.size() < 2 || 3 * others.size() < alike) return;
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

[[noreturn]] void refuse_none(const Scout& scout, Search& search, const std::vector<ProposedPlace>& other_sizes) {
  search.judge_other_sizes(other_sizes, 0.0, 12);
  const auto others = of_another_size(search.others());
  if (!others.empty()) refuse_other_size(scout, others);
  throw input_error(scout.photo.file,
                    "no blank is seen: nothing on the bed has the outline of " + declared_size(scout.like.kind.blank),
                    "see that the photo shows the loaded jig by this camera, and measure blank and seat again");
}

// Without those that the photo of the empty jig shows as well.
void drop_what_was_there(const Scout& scout, ScoutResult& result) {
  if (scout.options.empty == nullptr) return;
  Fixture fixture = scout.like.fixture;
  for (const ScoutedPlace& blank : result.blanks) fixture.slots.push_back(blank.slot);
  CheckOptions check;
  check.empty = scout.options.empty;
  check.lens_error_px = scout.options.lens_error_px;
  check.threads = scout.options.threads;
  const CheckResult checked = check_photo(scout.photo, scout.camera, fixture, check, scout.models);
  std::vector<ScoutedPlace> kept;
  for (std::size_t i = 0; i < result.blanks.size(); ++i) {
    ScoutedPlace& blank = result.blanks[i];
    if (checked.slots[i].state == SlotState::empty)
      result.others.push_back({blank.slot, checked.slots[i], blank.support});
    else
      kept.push_back(std::move(blank));
  }
  result.blanks = std::move(kept);
  result.notes = checked.notes;
  if (result.blanks.empty())
    throw input_error(scout.photo.file, "it shows no blank that the photo of the empty jig does not show as well",
                      "load the jig, or give another --empty");
}

void name_in_reading_order(std::vector<ScoutedPlace>& blanks) {
  std::vector<Slot> slots;
  for (const ScoutedPlace& blank : blanks) slots.push_back(blank.slot);
  std::vector<ScoutedPlace> ordered;
  for (const std::size_t i : reading_order(slots)) {
    ordered.push_back(blanks[i]);
    ordered.back().slot.id = std::to_string(ordered.size());
  }
  blanks = std::move(ordered);
}

}  // namespace

ScoutResult scout_photo(const Photo& photo, const Camera& camera, const LikeFile& like, const ScoutOptions& options,
                        EdgeModelStore& models) {
  refuse_other_size(photo, camera.lens);
  const Scout scout{photo, camera, like, options, models};
  const ProposedPlaces proposed = propose_places(photo, camera, like.kind.blank, like.kind.seat, options.threads);
  Search search(scout);
  search.judge(proposed.declared);
  if (search.blanks().empty()) refuse_none(scout, search, proposed.other_sizes);
  constexpr double kAsPlain = 0.6;  // of the support of what was found
  search.judge_other_sizes(proposed.other_sizes, kAsPlain * usual_support(search.blanks()), 3);
  refuse_cut(scout, search);
  refuse_overlaps(scout, search.blanks());
  refuse_two_kinds(scout, search);

  ScoutResult result;
  result.blanks = search.blanks();
  result.others = search.others();
  name_in_reading_order(result.blanks);  // whatever it says of them, it says by these names
  drop_what_was_there(scout, result);
  name_in_reading_order(result.blanks);
  std::stable_sort(result.others.begin(), result.others.end(),
                   [](const ScoutedPlace& a, const ScoutedPlace& b) { return a.support > b.support; });
  return result;
}

}  // namespace jigtrue
