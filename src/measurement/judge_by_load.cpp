#include "jigtrue/measurement/judge_by_load.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/base/series.hpp"
#include "jigtrue/detection/readings.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <utility>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestBlanks = 2;  // that agree, to speak of a common size
constexpr double kSameBlank_mm = 0.6;     // blanks of one make differ by less: common practice, no source
constexpr double kExpanded = 1.96;

std::string millimetres(double value, int decimals) {
  char text[48];
  std::snprintf(text, sizeof text, "%.*f mm", decimals, value);
  return text;
}

void doubt(SlotResult& slot, const std::string& reason, const std::string& remedy) {
  slot.state = SlotState::doubtful;
  slot.reasons.assign(1, reason);
  slot.remedy = remedy;
  slot.numbers.reset();
  slot.length.reset();
}

// Sizes --------------------------------------------------------------------------------------------------------------

struct OwnSize {
  double mm = 0.0;
  double sigma_mm = 0.0;
};

bool same_shape(const BlankShape& a, const BlankShape& b) {
  return a.index() == b.index() && std::abs(length_mm(a) - length_mm(b)) < 1e-9 &&
         std::abs(largest_girth_mm(a) - largest_girth_mm(b)) < 1e-9;
}

// Of the largest set of sizes that lie about one of them.
std::optional<CommonMean> mean_of_most(std::vector<OwnSize> sizes) {
  // sums must not hang on the order in which a file lists its slots
  std::sort(sizes.begin(), sizes.end(),
            [](const OwnSize& a, const OwnSize& b) { return a.mm != b.mm ? a.mm < b.mm : a.sigma_mm < b.sigma_mm; });
  std::vector<OwnSize> most;
  for (const OwnSize& about : sizes) {
    std::vector<OwnSize> near;
    for (const OwnSize& other : sizes)
      // what an end's form does to one it does to all: only half of what each may err is its own
      if (std::abs(other.mm - about.mm) <= kSameBlank_mm + 0.5 * std::hypot(about.sigma_mm, other.sigma_mm))
        near.push_back(other);
    if (near.size() > most.size()) most = std::move(near);
  }
  // a joint taken for an end on some of them makes two lengths: then neither is the load's
  if (most.size() < kFewestBlanks || 4 * most.size() < 3 * sizes.size()) return std::nullopt;
  constexpr double kModel_mm = 0.1;  // what a measured size may be off beyond what its edges say
  CommonMean mean;
  double weights = 0.0;
  for (const OwnSize& size : most) {
    const double w = 1.0 / (size.sigma_mm * size.sigma_mm + kModel_mm * kModel_mm);
    weights += w;
    mean.mm += w * size.mm;
  }
  mean.mm /= weights;
  double squares = 0.0;
  for (const OwnSize& size : most) squares += (size.mm - mean.mm) * (size.mm - mean.mm);
  const auto n = static_cast<double>(most.size());
  // a scatter that few blanks show is not known well: no less than blanks of one make may have
  mean.scatter_mm = std::max(std::sqrt(squares / (n - 1.0)), 0.5 * kSameBlank_mm / std::sqrt(n));
  mean.u_mm = mean.scatter_mm / std::sqrt(n);
  mean.blanks = static_cast<int>(most.size());
  return mean;
}

double total_along(const SlotNumbers& numbers) {
  double squares = 0.0;
  for (const BudgetShare& share : numbers.budget) squares += share.along_mm * share.along_mm;
  return kExpanded * std::sqrt(squares);
}

void move_along(SlotResult& slot, double by_mm) {
  SlotNumbers& n = *slot.numbers;
  const double axis = rad_from_deg(n.axis_deg);
  const Vector2d by = by_mm * Vector2d(std::cos(axis), std::sin(axis));
  n.centre_mm += by;
  n.offset_mm += by;
  const double nominal = rad_from_deg(slot.nominal_axis_deg);
  const Vector2d along(std::cos(nominal), std::sin(nominal));
  n.across_mm = n.offset_mm.dot(Vector2d(-along.y(), along.x()));
  n.along_mm = n.offset_mm.dot(along);
}

// An end that was not seen lies where the load's own length puts it.
void settle_end(SlotResult& slot, const CommonMean& length) {
  MeasuredLength& own = *slot.length;
  if (own.start_seen == own.end_seen) return;
  move_along(slot, (own.end_seen ? -0.5 : 0.5) * (length.mm - own.taken_mm));
  own.taken_mm = length.mm;
  for (BudgetShare& share : slot.numbers->budget)
    if (share.name == cause::kEndUnseen)
      share = {"length of this load", 0.0, 0.5 * std::hypot(length.scatter_mm, length.u_mm), 0.0};
  slot.numbers->uncertainty.along_mm = total_along(*slot.numbers);
}

// Another edge near one of the ends was weighed, which would make another length: where both ends agree with the load's
// own length, that is settled.
void settle_between_ends(SlotResult& slot, const CommonMean& length) {
  constexpr int kSure = 3;
  const double limit_mm = std::max(0.5 * kSameBlank_mm, 2.0 * length.scatter_mm);
  if (length.blanks < kSure || std::abs(*slot.length->own_mm - length.mm) > limit_mm) return;
  const double settled_mm = 0.5 * std::hypot(length.scatter_mm, slot.length->own_sigma_mm);
  for (BudgetShare& share : slot.numbers->budget)
    if (share.name == cause::kOneEdgeOrAnother) share.along_mm = std::min(share.along_mm, settled_mm);
  slot.numbers->uncertainty.along_mm = total_along(*slot.numbers);
}

void judge_own_length(SlotResult& slot, const CommonMean& common, double declared_mm, bool as_declared) {
  if (slot.state != SlotState::found || !slot.numbers || !slot.length) return;
  if (slot.length->own_mm) {
    const double limit_mm = std::max(kSameBlank_mm, 3.0 * std::hypot(slot.length->own_sigma_mm, common.scatter_mm));
    if (std::abs(*slot.length->own_mm - common.mm) > limit_mm + kEndForm_mm)
      doubt(slot,
            "its length measures " + millimetres(*slot.length->own_mm, 1) + ", that of the load's other blanks " +
                millimetres(common.mm, 1),
            "look at both its ends");
    else
      settle_between_ends(slot, common);
  } else if (!as_declared) {
    doubt(slot,
          "one of its ends is not seen, and the declared length, " + millimetres(declared_mm, 1) +
              ", is not that of this load, " + millimetres(common.mm, 1),
          "correct the length in the file");
  } else {
    settle_end(slot, common);
  }
}

// Both its ends are seen, and not as far apart as declared: one of them may be a joint, a ring, a pocket's wall.
void doubt_other_length(SlotResult& slot, const Blank& blank) {
  if (slot.state != SlotState::found || !slot.length || !slot.length->own_mm) return;
  const double declared = length_mm(blank.shape);
  const double limit_mm = blank.length_tolerance_mm + kEndForm_mm + slot.length->own_sigma_mm;
  if (std::abs(*slot.length->own_mm - declared) > limit_mm)
    doubt(slot,
          "what look like its ends lie " + millimetres(*slot.length->own_mm, 1) + " apart, declared " +
              millimetres(declared, 1),
          "look at both its ends");
}

void judge_lengths(const CommonSize& group, const Fixture& fixture, CheckResult& result) {
  const Blank& blank = fixture.slots[group.slots.front()].blank;
  // along a slim tip an end may slide without its profile's edges noticing: a turned blank's own length says too little
  if (std::holds_alternative<TurnedBlank>(blank.shape)) return;
  const double declared = length_mm(blank.shape);
  if (group.length) {
    const bool as_declared = near_declared_length(blank, group.length->mm - declared);
    if (!as_declared)
      result.notes.push_back(std::to_string(group.length->blanks) + " blanks measure " +
                             millimetres(group.length->mm, 1) + " in length; the file says " +
                             millimetres(declared, 1) + ". Correct the file, or load the blanks that it asks for.");
    for (const std::size_t i : group.slots) judge_own_length(result.slots[i], *group.length, declared, as_declared);
  }
  for (const std::size_t i : group.slots) doubt_other_length(result.slots[i], blank);
}

// As many blanks or more measure another size as measure the declared one: then these are hardly of that, in one load.
void doubt_few_among_others(const CommonSize& group, CheckResult& result) {
  constexpr std::ptrdiff_t kFewest = 2;
  const auto count = [&](SlotState state) {
    return std::count_if(group.slots.begin(), group.slots.end(),
                         [&](std::size_t i) { return result.slots[i].state == state && result.slots[i].numbers; });
  };
  const std::ptrdiff_t others = count(SlotState::mismatch);
  if (others < kFewest || others < count(SlotState::found)) return;
  for (const std::size_t i : group.slots)
    if (result.slots[i].state == SlotState::found)
      doubt(result.slots[i], std::to_string(others) + " blanks of this load are not what the file asks for",
            "see whether this one is, and correct the file or load the blanks that it asks for");
}

void judge_diameters(const CommonSize& group, const Fixture& fixture, CheckResult& result) {
  if (!group.diameter) return;
  constexpr double kAnotherSize_mm = 0.5;
  constexpr double kAnotherSize = 0.01;  // of a large one, whose rim is rounded
  const CommonMean& common = *group.diameter;
  const double declared = largest_girth_mm(fixture.slots[group.slots.front()].blank.shape);
  const bool as_declared = std::abs(common.mm - declared) <= std::max(kAnotherSize_mm, kAnotherSize * declared);
  if (!as_declared)
    result.notes.push_back(std::to_string(common.blanks) + " blanks measure " + millimetres(common.mm, 1) +
                           " in diameter; the file says " + millimetres(declared, 1) +
                           ". Measure one with callipers and correct the file.");
  for (const std::size_t i : group.slots) {
    SlotResult& slot = result.slots[i];
    if (slot.state != SlotState::found || !slot.numbers || !slot.numbers->diameter_mm) continue;
    if (!as_declared) {
      doubt(slot,
            "this load's blanks measure " + millimetres(common.mm, 1) + " in diameter, declared " +
                millimetres(declared, 1),
            "measure one with callipers and correct the file");
      continue;
    }
    const double sigma = slot.numbers->uncertainty.diameter_mm.value_or(0.0) / kExpanded;
    const double limit_mm = std::max(kAnotherSize_mm, 3.0 * std::hypot(sigma, common.scatter_mm));
    if (std::abs(*slot.numbers->diameter_mm - common.mm) > limit_mm)
      doubt(slot,
            "its diameter measures " + millimetres(*slot.numbers->diameter_mm, 2) +
                ", that of the load's other blanks " + millimetres(common.mm, 2),
            "measure the blank with callipers");
  }
}

// Places -------------------------------------------------------------------------------------------------------------

Vector2d along_of(const Slot& slot) {
  const double a = rad_from_deg(slot.axis_deg);
  return {std::cos(a), std::sin(a)};
}

// A slot of a row side by side: how far from the first, and how far its blank lies off.
struct RowPlace {
  std::size_t slot = 0;
  double at_mm = 0.0;
  double across_mm = 0.0;
  double sigma_mm = 0.0;
};

std::vector<RowPlace> row_places(const Fixture& fixture, const std::vector<SlotResult>& slots) {
  std::vector<RowPlace> row;
  const Vector2d along = along_of(fixture.slots.front());
  const Vector2d across(-along.y(), along.x());
  for (std::size_t i = 0; i < slots.size(); ++i) {
    constexpr double kParallel = 0.999;
    if (slots[i].state != SlotState::found || !slots[i].numbers ||
        std::abs(along_of(fixture.slots[i]).dot(along)) < kParallel)
      continue;
    row.push_back({i, fixture.slots[i].centre_mm.dot(across), slots[i].numbers->offset_mm.dot(across),
                   slots[i].numbers->uncertainty.across_mm / kExpanded});
  }
  std::sort(row.begin(), row.end(), [](const RowPlace& a, const RowPlace& b) { return a.at_mm < b.at_mm; });
  return row;
}

// The straight line through a row's places by least squares.
struct RowFit {
  double middle_mm = 0.0;  // of the row
  double level_mm = 0.0;   // across, there
  double slope = 0.0;      // mm across for 1 mm along the row
  double squares_mm2 = 0.0;
  double scatter_mm = 0.0;
};

// Nothing of places that lie abreast of each other.
std::optional<RowFit> fitted(const std::vector<RowPlace>& row) {
  const auto n = static_cast<double>(row.size());
  RowFit fit;
  for (const RowPlace& place : row) {
    fit.middle_mm += place.at_mm / n;
    fit.level_mm += place.across_mm / n;
  }
  double products = 0.0;
  for (const RowPlace& place : row) {
    const double d = place.at_mm - fit.middle_mm;
    fit.squares_mm2 += d * d;
    products += d * (place.across_mm - fit.level_mm);
  }
  if (fit.squares_mm2 < 1.0) return std::nullopt;
  fit.slope = products / fit.squares_mm2;
  double left = 0.0;
  for (const RowPlace& place : row) {
    const double r = place.across_mm - fit.level_mm - fit.slope * (place.at_mm - fit.middle_mm);
    left += r * r;
  }
  fit.scatter_mm = std::sqrt(left / (n - 2.0));
  return fit;
}

struct Trend {
  double slope = 0.0;  // mm across for 1 mm along the row
  double slope_sigma = 0.0;
  double reach_mm = 0.0;  // of the row, from its middle
};

std::optional<Trend> trend_of(const std::vector<RowPlace>& row) {
  constexpr double kLeastScatter_mm = 0.03;
  if (row.size() < 4) return std::nullopt;
  const auto fit = fitted(row);
  if (!fit) return std::nullopt;
  Trend trend{fit->slope, std::max(fit->scatter_mm, kLeastScatter_mm) / std::sqrt(fit->squares_mm2), 0.0};
  for (const RowPlace& place : row) trend.reach_mm = std::max(trend.reach_mm, std::abs(place.at_mm - fit->middle_mm));
  return trend;
}

// Whether lengths are scaled as the places are, as a height that is declared wrongly does it: a seat higher by dz under
// a camera at height h scales both by dz / h. A wrong distance of the slots leaves lengths alone.
std::optional<bool> lengths_follow(const Fixture& fixture, const std::vector<CommonSize>& sizes, double slope) {
  for (const CommonSize& group : sizes) {
    if (!group.length) continue;
    const double grown = group.length->mm / length_mm(fixture.slots[group.slots.front()].blank.shape) - 1.0;
    return std::abs(grown - slope) < std::abs(grown);
  }
  return std::nullopt;
}

// Offsets that grow along the row: the seat's height is declared wrongly, or the slots' distances are.
void judge_trend(const Fixture& fixture, const std::vector<CommonSize>& sizes, const std::vector<RowPlace>& row,
                 const std::optional<Trend>& trend, CheckResult& result) {
  constexpr double kWorthSaying_mm = 0.2;  // at the row's end
  constexpr double kSure = 4.0;            // sigmas
  constexpr double kMostByHeight = 0.02;   // 9 mm under a camera at 450: no seat is declared that wrongly
  if (!trend || std::abs(trend->slope) < kSure * trend->slope_sigma ||
      std::abs(trend->slope) * trend->reach_mm < kWorthSaying_mm)
    return;
  char text[120];
  std::snprintf(text, sizeof text, "Offsets across grow along the row, by %+.2f mm in 25 mm: ", 25.0 * trend->slope);
  if (std::abs(trend->slope) > kMostByHeight) {
    result.notes.push_back(std::string(text) + "the slots of the jig do not lie as far apart as the file says.");
  } else {
    const auto follow = lengths_follow(fixture, sizes, trend->slope);
    result.notes.push_back(std::string(text) + "the seat's height or the slots' distances are declared wrongly" +
                           (!follow   ? ""
                            : *follow ? ", and lengths point to the height"
                                      : ", and lengths point to the distances") +
                           ". Measure them and correct the file.");
  }
  // which of the two it is decides where the blanks lie
  const double sigma_mm = std::abs(trend->slope) * trend->reach_mm;
  for (const RowPlace& place : row) {
    SlotNumbers& numbers = *result.slots[place.slot].numbers;
    numbers.uncertainty.across_mm = std::hypot(numbers.uncertainty.across_mm, kExpanded * sigma_mm);
    numbers.budget.push_back({cause::kHeightOrDistances, sigma_mm, 0.0, 0.0});
  }
}

// Blanks that are all longer alike may as well lie higher than declared: a seat higher by dz under a camera at height h
// puts them all further from its foot by dz / h of their distance, as it lengthens them. Where the row's own slope does
// not tell, either is as likely, and the places are known no better than that.
void judge_height(const CommonSize& group, const Fixture& fixture, const std::optional<Trend>& trend,
                  const Vector2d& camera_mm, CheckResult& result) {
  constexpr int kFewest = 3;
  constexpr double kWorthSaying =
      0.003;                     // of the length: less puts nothing within 100 mm of the camera's foot off by 0.3
  constexpr double kSure = 4.0;  // sigmas
  if (!group.length || group.length->blanks < kFewest) return;
  const Blank& blank = fixture.slots[group.slots.front()].blank;
  const double declared_mm = length_mm(blank.shape);
  const double longer_mm = group.length->mm - declared_mm;
  if (std::holds_alternative<TurnedBlank>(blank.shape) ||
      std::abs(longer_mm) < std::max(kEndForm_mm, kWorthSaying * declared_mm) ||
      !near_declared_length(blank, longer_mm))
    return;
  const double grown = longer_mm / declared_mm;
  const bool only_longer = trend && std::abs(trend->slope - grown) > kSure * trend->slope_sigma &&
                           std::abs(trend->slope) < std::abs(trend->slope - grown);
  result.notes.push_back(std::to_string(group.length->blanks) + " blanks measure " + millimetres(group.length->mm, 1) +
                         " in length, the file says " + millimetres(declared_mm, 1) + ": " +
                         (only_longer
                              ? "if they are, correct it"
                              : std::string("if they are not, they lie ") + (longer_mm > 0.0 ? "higher" : "lower") +
                                    " than it says. Measure one, and the seat's height") +
                         ".");
  if (only_longer) return;
  for (const std::size_t i : group.slots) {
    SlotResult& slot = result.slots[i];
    if (slot.state != SlotState::found || !slot.numbers) continue;
    SlotNumbers& n = *slot.numbers;
    const double axis = rad_from_deg(n.axis_deg);
    const Vector2d along(std::cos(axis), std::sin(axis));
    const Vector2d away_mm = std::abs(grown) * (n.centre_mm - camera_mm);
    const Vector2d across_axis(-along.y(), along.x());
    // what the seat's own tolerance allows is stated already
    const auto stated = std::find_if(n.budget.begin(), n.budget.end(),
                                     [](const BudgetShare& share) { return share.name == cause::kSeatHeight; });
    const BudgetShare known = stated != n.budget.end() ? *stated : BudgetShare{};
    const auto beyond = [](double moved_mm, double known_mm) {
      return std::sqrt(std::max(moved_mm * moved_mm - kExpanded * kExpanded * known_mm * known_mm, 0.0));
    };
    const double across = beyond(std::abs(away_mm.dot(across_axis)), known.across_mm);
    n.uncertainty.across_mm = std::hypot(n.uncertainty.across_mm, across);
    const double further = beyond(std::abs(away_mm.dot(along)), known.along_mm);
    if (n.uncertainty.along_mm) n.uncertainty.along_mm = std::hypot(*n.uncertainty.along_mm, further);
    n.budget.push_back({cause::kLengthOrHeight, across / kExpanded, further / kExpanded, 0.0});
  }
}

// Robust: Sen, J. Am. Stat. Assoc. 63, 1968.
struct RowLine {
  double slope = 0.0;
  double level_mm = 0.0;
  [[nodiscard]] double at(double at_mm) const { return level_mm + slope * at_mm; }
};

RowLine line_of(const std::vector<RowPlace>& row) {
  std::vector<double> slopes;
  for (std::size_t i = 0; i < row.size(); ++i)
    for (std::size_t j = i + 1; j < row.size(); ++j)
      if (std::abs(row[j].at_mm - row[i].at_mm) > 1.0)
        slopes.push_back((row[j].across_mm - row[i].across_mm) / (row[j].at_mm - row[i].at_mm));
  RowLine line;
  line.slope = median(slopes).value_or(0.0);
  std::vector<double> levels;
  levels.reserve(row.size());
  for (const RowPlace& place : row) levels.push_back(place.across_mm - line.slope * place.at_mm);
  line.level_mm = median(levels).value_or(0.0);
  return line;
}

std::vector<RowPlace> without(std::vector<RowPlace> row, std::size_t place) {
  row.erase(row.begin() + static_cast<std::ptrdiff_t>(place));
  return row;
}

struct Predicted {
  double mm = 0.0;
  double sigma_mm = 0.0;
};

// Where the others of a row say that one more would lie: a straight line through them, and how far one more lies off
// such a line, where it was drawn through few or far from them (Draper & Smith, Applied Regression Analysis, 3.1).
std::optional<Predicted> predicted_by(const std::vector<RowPlace>& others, double at_mm, double least_scatter_mm) {
  const auto fit = fitted(others);
  if (!fit) return std::nullopt;
  const auto n = static_cast<double>(others.size());
  const double from_middle_mm = at_mm - fit->middle_mm;
  const double few = students_t(n - 2.0) / kExpanded;
  return Predicted{fit->level_mm + fit->slope * from_middle_mm,
                   few * std::max(fit->scatter_mm, least_scatter_mm) *
                       std::sqrt(1.0 + 1.0 / n + from_middle_mm * from_middle_mm / fit->squares_mm2)};
}

// What the row says of where a blank lies across, beside its own edges: the mean of the two, by their variances. Only
// where its own say clearly less.
void settle_across(SlotResult& slot, const Vector2d& across, const Predicted& row, double own_sigma_mm) {
  constexpr double kClearlyLess = 1.5;
  if (own_sigma_mm < kClearlyLess * row.sigma_mm) return;
  const double row_variance = row.sigma_mm * row.sigma_mm;
  const double own_variance = own_sigma_mm * own_sigma_mm;
  SlotNumbers& n = *slot.numbers;
  const Vector2d by = (row.mm - n.offset_mm.dot(across)) * own_variance / (own_variance + row_variance) * across;
  n.centre_mm += by;
  n.offset_mm += by;
  const double nominal = rad_from_deg(slot.nominal_axis_deg);
  n.across_mm = n.offset_mm.dot(Vector2d(-std::sin(nominal), std::cos(nominal)));
  const double share = std::sqrt(row_variance / (own_variance + row_variance));
  for (BudgetShare& part : n.budget) part.across_mm *= share;
  n.uncertainty.across_mm *= share;
}

// A vee holds its blank: it must lie across where the others say that the jig stands.
void judge_places(const Fixture& fixture, CheckResult& result) {
  constexpr double kHeld_mm = 0.6;
  constexpr double kGrooves_mm = 0.05;  // how truly a jig's grooves are cut: common practice, no source
  const std::vector<RowPlace> row = row_places(fixture, result.slots);
  if (row.size() < 4) return;
  const auto [slope, usual] = line_of(row);
  std::vector<double> off;
  std::vector<double> sigmas;
  for (const RowPlace& place : row) {
    off.push_back(std::abs(place.across_mm - slope * place.at_mm - usual));
    sigmas.push_back(place.sigma_mm);
  }
  // what all of them err by alike is theirs, too
  const double alike_mm = median(sigmas).value_or(0.0);
  const auto beside = [&](std::size_t k) { return off[k] > kHeld_mm + 2.0 * row[k].sigma_mm; };
  std::size_t odd = 0;
  for (std::size_t k = 0; k < row.size(); ++k) odd += beside(k) ? 1 : 0;
  const bool grooves_scatter = 4 * odd > row.size();  // a jig cut by hand: then none of them is the odd one
  const Vector2d along = along_of(fixture.slots.front());
  for (std::size_t k = 0; k < row.size(); ++k) {
    SlotResult& slot = result.slots[row[k].slot];
    if (!std::holds_alternative<VeeSeat>(fixture.slots[row[k].slot].seat.kind)) continue;
    if (beside(k) && !grooves_scatter)
      doubt(slot, "it seems to lie " + millimetres(off[k], 1) + " beside where the other slots say that its groove is",
            "see whether it lies in its groove, and look at its edges");
    if (beside(k) || row.size() <= 4 || off[k] >= 2.0 * row[k].sigma_mm) continue;
    if (auto others = predicted_by(without(row, k), row[k].at_mm, kGrooves_mm)) {
      others->sigma_mm = std::hypot(others->sigma_mm, alike_mm);
      settle_across(slot, {-along.y(), along.x()}, *others, row[k].sigma_mm);
    }
  }
}

// Few of many slots read as found, and hardly any other as empty: hardly the fixture in the photo.
void judge_fixture(CheckResult& result) {
  constexpr std::size_t kMany = 4;
  constexpr double kFew = 0.3;
  std::size_t found = 0;
  std::size_t occupied = 0;
  for (const SlotResult& slot : result.slots) {
    found += slot.state == SlotState::found ? 1 : 0;
    occupied += slot.state != SlotState::empty && !slot.covered ? 1 : 0;
  }
  if (found == 0 || occupied < kMany || static_cast<double>(found) > kFew * static_cast<double>(occupied)) return;
  for (SlotResult& slot : result.slots)
    if (slot.state == SlotState::found)
      doubt(slot, "hardly any other slot can be read, so the file may not be this fixture's",
            "see whether the file is this fixture's, and whether the fixture stands where it says");
  result.notes.push_back("Only " + std::to_string(found) + " of " + std::to_string(occupied) +
                         " slots that are not empty could be read. Is the file this fixture's, and does the fixture "
                         "stand where it says?");
}

}  // namespace

std::vector<CommonSize> common_sizes(const Fixture& fixture, const std::vector<SlotResult>& slots) {
  std::vector<CommonSize> groups;
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    const auto same = std::find_if(groups.begin(), groups.end(), [&](const CommonSize& group) {
      return same_shape(fixture.slots[group.slots.front()].blank.shape, fixture.slots[i].blank.shape);
    });
    if (same != groups.end()) {
      same->slots.push_back(i);
    } else {
      groups.emplace_back();
      groups.back().slots.push_back(i);
    }
  }
  for (CommonSize& group : groups) {
    std::vector<OwnSize> lengths;
    std::vector<OwnSize> diameters;
    for (const std::size_t i : group.slots) {
      const SlotResult& slot = slots[i];
      if (!slot.numbers) continue;
      if (slot.length && slot.length->own_mm) lengths.push_back({*slot.length->own_mm, slot.length->own_sigma_mm});
      if (slot.numbers->diameter_mm)
        diameters.push_back(
            {*slot.numbers->diameter_mm, slot.numbers->uncertainty.diameter_mm.value_or(0.0) / kExpanded});
    }
    group.length = mean_of_most(lengths);
    group.diameter = mean_of_most(diameters);
  }
  return groups;
}

void judge_by_load(const Fixture& fixture, const Vector2d& camera_mm, CheckResult& result) {
  const std::vector<CommonSize> sizes = common_sizes(fixture, result.slots);
  for (const CommonSize& group : sizes) {
    judge_lengths(group, fixture, result);
    judge_diameters(group, fixture, result);
    doubt_few_among_others(group, result);
  }
  judge_places(fixture, result);
  const std::vector<RowPlace> row = row_places(fixture, result.slots);
  const auto trend = trend_of(row);
  for (const CommonSize& group : sizes) judge_height(group, fixture, trend, camera_mm, result);
  judge_trend(fixture, sizes, row, trend, result);
  judge_fixture(result);
}

}  // namespace jigtrue
