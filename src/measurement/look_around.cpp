#include "jigtrue/measurement/look_around.hpp"

#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/base/median.hpp"
#include "jigtrue/detection/readings.hpp"
#include "jigtrue/measurement/readiness.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace jigtrue {
namespace {

// as far as a blank slides in a groove that is longer than it: common practice, no source
constexpr double kFarAlong_mm = 28.0;
constexpr double kOfPitch = 0.6;           // farther across lies the next slot's blank
constexpr double kMostAcross_mm = 15.0;    // the same across, where no neighbour bounds it
constexpr double kInPlaceAlong_mm = 4.0;   // a blank that lies nearer was found in its slot
constexpr double kInPlaceAcross_mm = 3.0;  // the same across

struct SlotFrame {
  Vector2d along;
  Vector2d across;
  explicit SlotFrame(const Slot& slot)
      : along(std::cos(rad_from_deg(slot.axis_deg)), std::sin(rad_from_deg(slot.axis_deg))),
        across(-along.y(), along.x()) {}
};

void refuse_slot(SlotResult& slot, const std::string& reason, const std::string& remedy) {
  slot.state = SlotState::doubtful;
  slot.reasons.assign(1, reason);
  slot.remedy = remedy;
  slot.numbers.reset();
  slot.length.reset();
}

// Known as well as a slot's blank must be, both ends seen as far apart as declared.
bool is_sound(const SlotResult& there, const Blank& blank) {
  if (!is_ready(there)) return false;
  if (std::holds_alternative<DiscBlank>(blank.shape)) return true;
  return there.length && there.length->own_mm &&
         near_declared_length(blank, *there.length->own_mm - length_mm(blank.shape));
}

// Bare ground shows next to nothing of an outline, a blank like the slot's own, in the same light, about as much as
// that: half lies between. To measure takes ten times as long.
bool is_seen_as_well(const CoarseFinding& there, const CoarseFinding& here) {
  constexpr double kShare = 0.5;             // of the other's support
  if (here.candidates.empty()) return true;  // how well one is seen is not known
  if (there.candidates.empty()) return false;
  return there.candidates.front().whole_outline() >= kShare * here.candidates.front().whole_outline();
}

// How far from its slot's own place a blank lies that is found when looked for off by so much.
std::optional<Vector2d> blank_off_by(const SlotSight& sight, const SlotTask& task, const Vector2d& by_mm) {
  SlotTask moved = task;
  moved.slot.centre_mm += by_mm;
  moved.expected.centre_mm += by_mm;
  moved.range.along_mm = std::min(task.range.along_mm, kInPlaceAlong_mm);
  moved.range.across_mm = std::min(task.range.across_mm, kInPlaceAcross_mm);
  moved.coarse = sight.search(moved, moved.range);
  if (!is_seen_as_well(moved.coarse, task.coarse)) return std::nullopt;
  const SlotResult there = sight.measure(moved);
  if (!there.numbers || !is_sound(there, task.slot.blank)) return std::nullopt;
  return by_mm + there.numbers->offset_mm;
}

// The distance from a slot to its nearest neighbour that lies abreast of it; 0 where there is none.
double pitch_at(const Fixture& fixture, std::size_t index) {
  const SlotFrame frame(fixture.slots[index]);
  double pitch = 0.0;
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    const Vector2d away = fixture.slots[i].centre_mm - fixture.slots[index].centre_mm;
    const double across = std::abs(away.dot(frame.across));
    if (i != index && std::abs(away.dot(frame.along)) < across && (pitch == 0.0 || across < pitch)) pitch = across;
  }
  return pitch;
}

bool in_place(const SlotResult& slot) {
  if (slot.state != SlotState::found || !tells_of_load(slot)) return false;
  return std::abs(slot.numbers->across_mm) <= kInPlaceAcross_mm &&
         std::abs(slot.numbers->along_mm.value_or(0.0)) <= kInPlaceAlong_mm;
}

bool lies_off_by(const SlotResult& slot, const Vector2d& by_mm) {
  constexpr double kSame_mm = 2.5;  // places that are the same within what a search leaves open
  return slot.state == SlotState::found && tells_of_load(slot) && (slot.numbers->offset_mm - by_mm).norm() <= kSame_mm;
}

// Most slots hold their blank where it belongs, or are known to be empty.
bool as_expected(const PhotoFindings& result) {
  constexpr double kMost = 0.7;  // of the slots found: then the file is right
  std::size_t well = 0;
  std::size_t open = 0;
  for (const SlotResult& slot : result.slots) {
    if (slot.covered || slot.as_empty_photo) continue;
    ++open;
    well += in_place(slot) ? 1 : 0;
  }
  return static_cast<double>(well) >= kMost * static_cast<double>(open);
}

std::string moved_words(const Vector2d& by_mm) {
  std::string words;
  const auto add = [&](double mm, const char* positive, const char* negative) {
    if (std::abs(mm) < 1.0) return;
    char text[64];
    std::snprintf(text, sizeof text, "%.0f mm %s", std::abs(mm), mm > 0.0 ? positive : negative);
    words += (words.empty() ? "" : " and ") + std::string(text);
  };
  add(by_mm.x(), "further to the right", "further to the left");
  add(by_mm.y(), "further away from you", "nearer to you");
  return words;
}

// How far off, all by the same way, the blanks of a few slots lie; nothing where they do not agree.
std::optional<Vector2d> common_way_off(const SlotSight& sight, const Fixture& fixture) {
  constexpr double kNear_mm = 2.5;  // ways off that agree: more than blanks vary in their slots
  const std::size_t n = fixture.slots.size();
  std::vector<std::size_t> looked = {n / 2, 0, n - 1};
  looked.erase(std::unique(looked.begin(), looked.end()), looked.end());
  const std::size_t needed = std::min<std::size_t>(2, n);
  std::vector<Vector2d> tried;
  for (const std::size_t i : looked) {
    const SlotTask& task = sight.tasks[i];
    SearchRange range = task.range;
    const double pitch = pitch_at(fixture, i);
    range.along_mm = kFarAlong_mm;
    range.across_mm = pitch > 0.0 ? std::min(kOfPitch * pitch, kMostAcross_mm) : kMostAcross_mm;
    const CoarseFinding far = sight.search(task, range);
    for (std::size_t k = 0; k < far.candidates.size() && k < 3; ++k) {
      const Vector2d by = far.candidates[k].place.centre_mm - task.expected.centre_mm;
      const SlotFrame frame(task.slot);
      const bool here =
          std::abs(by.dot(frame.along)) <= kInPlaceAlong_mm && std::abs(by.dot(frame.across)) <= kInPlaceAcross_mm;
      const bool known = std::any_of(tried.begin(), tried.end(),
                                     [&](const Vector2d& other) { return (other - by).norm() < kNear_mm; });
      if (here || known) continue;
      tried.push_back(by);
      std::size_t seen = 0;
      std::size_t left = looked.size();
      for (const std::size_t j : looked) {
        if (seen + left < needed) break;
        seen += blank_off_by(sight, sight.tasks[j], by) ? 1 : 0;
        --left;
      }
      if (seen >= needed) return by;
    }
  }
  return std::nullopt;
}

// All blanks elsewhere: another jig, a jig against the wrong edge, pens out of their stops.
bool tell_all_elsewhere(const SlotSight& sight, const Fixture& fixture, PhotoFindings& result) {
  if (as_expected(result)) return false;
  const auto by = common_way_off(sight, fixture);
  if (!by) return false;
  // where slots were read there already, the jig stands off and no more
  const auto met = std::count_if(result.slots.begin(), result.slots.end(),
                                 [&](const SlotResult& slot) { return lies_off_by(slot, *by); });
  const auto found = std::count_if(result.slots.begin(), result.slots.end(),
                                   [](const SlotResult& slot) { return slot.state == SlotState::found; });
  if (met > 0 && 2 * met >= found) return false;
  std::vector<double> right;
  std::vector<double> away;
  for (const SlotTask& task : sight.tasks) {
    const auto off = blank_off_by(sight, task, *by);
    if (!off) continue;
    right.push_back(off->x());
    away.push_back(off->y());
  }
  const Vector2d off_mm(median(right).value_or(by->x()), median(away).value_or(by->y()));
  // looked for farther off, and found where they belong after all
  const SlotFrame frame(fixture.slots.front());
  if (std::abs(off_mm.dot(frame.along)) <= kInPlaceAlong_mm && std::abs(off_mm.dot(frame.across)) <= kInPlaceAcross_mm)
    return false;
  const std::string where = moved_words(off_mm);
  result.notes.push_back(std::to_string(right.size()) + " blanks lie each about " + where +
                         " than the file says. Put the fixture or the blanks where they belong, or correct the file.");
  for (SlotResult& slot : result.slots)
    if (!slot.covered && !lies_off_by(slot, *by))
      refuse_slot(slot, "the blanks in the photo lie each about " + where + " than the file says",
                  "put the fixture or the blanks where they belong, or correct the file");
  return true;
}

std::optional<std::size_t> slot_at(const Fixture& fixture, const Vector2d& at_mm) {
  constexpr double kSame_mm = 1.0;  // a file's own rounding of a place
  for (std::size_t i = 0; i < fixture.slots.size(); ++i)
    if ((fixture.slots[i].centre_mm - at_mm).norm() <= kSame_mm) return i;
  return std::nullopt;
}

// The steps from slot to slot of a row or a grid of parallel slots, both ways; none for other fixtures.
std::vector<Vector2d> ways_to_neighbours(const Fixture& fixture) {
  constexpr double kAskew = 0.3;  // sine: two steps that are not the same
  const std::size_t n = fixture.slots.size();
  if (n < 3) return {};
  const SlotFrame frame(fixture.slots.front());
  std::vector<Vector2d> ways;
  for (std::size_t i = 0; i < n; ++i) {
    if (std::abs(SlotFrame(fixture.slots[i]).along.dot(frame.across)) > 0.02) return {};
    for (std::size_t j = 0; j < n; ++j)
      if (i != j) ways.push_back(fixture.slots[j].centre_mm - fixture.slots[i].centre_mm);
  }
  std::sort(ways.begin(), ways.end(), [](const Vector2d& a, const Vector2d& b) {
    return std::pair(a.norm(), std::pair(a.x(), a.y())) < std::pair(b.norm(), std::pair(b.x(), b.y()));
  });
  std::vector<Vector2d> steps;
  for (const Vector2d& way : ways) {
    const bool another = std::all_of(steps.begin(), steps.end(), [&](const Vector2d& step) {
      return std::abs(step.x() * way.y() - step.y() * way.x()) > kAskew * step.norm() * way.norm();
    });
    if (!another || way.norm() < 1.0) continue;
    // every slot has a neighbour that way, or the other way
    const bool regular = std::all_of(fixture.slots.begin(), fixture.slots.end(), [&](const Slot& slot) {
      return slot_at(fixture, slot.centre_mm + way) || slot_at(fixture, slot.centre_mm - way);
    });
    if (!regular) continue;
    steps.push_back(way);
    steps.emplace_back(-way);
    if (steps.size() == 4) break;
  }
  return steps;
}

std::vector<std::size_t> slots_without_neighbour(const Fixture& fixture, const Vector2d& step_mm) {
  std::vector<std::size_t> list;
  for (std::size_t i = 0; i < fixture.slots.size(); ++i)
    if (!slot_at(fixture, fixture.slots[i].centre_mm + step_mm)) list.push_back(i);
  return list;
}

// One more blank beyond a row's end; with none in the slots at the other end all names are shifted by a groove.
bool tell_one_more(const SlotSight& sight, const Fixture& fixture, PhotoFindings& result) {
  const auto is_found = [&](std::size_t i) { return result.slots[i].state == SlotState::found; };
  bool told = false;
  for (const Vector2d& step : ways_to_neighbours(fixture)) {
    const std::vector<std::size_t> ends = slots_without_neighbour(fixture, step);
    std::vector<char> one_more(ends.size(), 0);  // apart from each other, for threads to write to
    in_parallel(ends.size(), sight.threads, [&](std::size_t k, std::size_t) {
      one_more[k] = is_found(ends[k]) && blank_off_by(sight, sight.tasks[ends[k]], step) ? 1 : 0;
    });
    const auto first = std::find(one_more.begin(), one_more.end(), 1);
    if (first == one_more.end()) continue;
    const std::size_t here = ends[static_cast<std::size_t>(first - one_more.begin())];
    const std::string beyond = "beyond slot " + result.slots[here].id + " lies a blank where the file has no slot";
    const std::vector<std::size_t> others = slots_without_neighbour(fixture, -step);
    if (std::any_of(others.begin(), others.end(), is_found)) {
      result.notes.push_back("One more blank: " + beyond + ".");
      continue;
    }
    told = true;
    result.notes.push_back("All blanks may lie one groove from their slots: " + beyond + ", and " +
                           (others.size() == 1 ? "slot " + result.slots[others.front()].id + ", at the other end, does"
                                               : std::string("the slots at the other end do")) +
                           " not show one.");
    for (SlotResult& slot : result.slots)
      if (slot.state == SlotState::found)
        refuse_slot(slot, "it may hold its neighbour's blank: " + beyond,
                    "see whether the fixture stands a whole groove off, or add the slot to the file");
  }
  return told;
}

}  // namespace

bool look_around(const SlotSight& sight, const Fixture& fixture, PhotoFindings& result) {
  return tell_all_elsewhere(sight, fixture, result) || tell_one_more(sight, fixture, result);
}

}  // namespace jigtrue
