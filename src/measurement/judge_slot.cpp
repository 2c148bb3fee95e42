#include "jigtrue/measurement/judge_slot.hpp"

#include <cmath>
#include <cstdio>
#include <optional>

namespace jigtrue {
namespace {

// Log ratios. Some 100,000 places are searched in a slot (a tenth of a millimetre across, a fifth along, a fifth of a
// degree): log 1e5 = 11.5, and one slot in 5,000 may be taken wrongly by chance: log 5000 = 8.5. Another size is looked for
// among some hundred.
constexpr double kMoreThanChance = 20.0;
constexpr double kMoreThanChanceAtAnySize = 24.6;
// Share of another outline's evidence that the declared one must have, to be taken before it, or not to be doubted. An
// outline in or around the blank's own (a ring, a highlight, its pocket) may well be plainer than that.
constexpr double kAsEvident = 0.6;
constexpr double kLessEvident = 0.3;
constexpr double kSharpShare = 0.66;  // of each part's stretches

std::string number(double value, int decimals) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  return text;
}

Judgement in_doubt(const std::string& reason, const std::string& remedy = {}) {
  return {SlotState::doubtful, {reason}, remedy, nullptr};
}

// A disc's quadrants are one rim: three of them leave no other disc.
bool seen_all_round(const Reading& reading, const Blank& blank) {
  const int needed = std::holds_alternative<DiscBlank>(blank.shape) ? kOutlineParts - 1 : kOutlineParts;
  return reading.parts_shown() >= needed;
}

// Both sides and one end: the other may be hidden, as long as nothing denies it.
bool seen_but_for_an_end(const Reading& reading) {
  if (!reading.sides_shown() || reading.parts_shown() < kOutlineParts - 1) return false;
  return !reading.end_denied[0] && !reading.end_denied[1];
}

bool sharp_all_round(const Reading& reading) {
  for (const PartEvidence& part : reading.evidence)
    if (!is_shown(part) || part.share() < kSharpShare) return false;
  return true;
}

template <class Which>
const Reading* most_evident(const Readings& readings, const Which& which) {
  const Reading* best = nullptr;
  for (const auto* list : {&readings.declared, &readings.other_sizes})
    for (const Reading& reading : *list)
      if (which(reading) && (best == nullptr || reading.log_ratio() > best->log_ratio())) best = &reading;
  return best;
}

std::string girth_word(const Blank& blank) {
  return std::holds_alternative<PlateBlank>(blank.shape) ? "height" : "diameter";
}

std::string wrong_size_text(const Blank& blank, const Reading& reading) {
  if (std::abs(reading.fit.girth_free_mm) > girth_limit_mm(reading, blank))
    return girth_word(blank) + " measures " + number(largest_girth_mm(blank.shape) + reading.fit.girth_free_mm, 2) +
           " mm, declared " + number(largest_girth_mm(blank.shape), 2) + " mm";
  return "length measures " + number(length_mm(blank.shape) + reading.fit.place.length_mm, 1) + " mm, declared " +
         number(length_mm(blank.shape), 1) + " mm";
}

Judgement judge_other(const Blank& blank, const Reading& other) {
  const std::string text = wrong_size_text(blank, other);
  const bool of_other_length = std::abs(other.fit.girth_free_mm) <= girth_limit_mm(other, blank);
  // a ring or a joint ends as a blank does: the picture alone does not tell a turned one's length
  if (of_other_length && std::holds_alternative<TurnedBlank>(blank.shape))
    return in_doubt(text + ", unless a joint was taken for an end", "look at both ends");
  if (!sharp_all_round(other)) return in_doubt(text + ", but not clearly", "measure the blank with callipers");
  return {SlotState::mismatch, {text}, {}, &other};
}

}  // namespace

Judgement judge(const Blank& blank, const Readings& readings) {
  if (!readings.in_picture) return in_doubt("the slot lies outside the picture or nearly so");
  const auto declared_and = [&](auto&& seen) {
    return most_evident(readings, [&](const Reading& reading) {
      return reading.declared_size && is_of_declared_size(reading, blank) && reading.log_ratio() >= kMoreThanChance &&
             seen(reading);
    });
  };
  const Reading* other = most_evident(readings, [&](const Reading& reading) {
    return !is_of_declared_size(reading, blank) && reading.log_ratio() >= kMoreThanChanceAtAnySize &&
           reading.parts_shown() == kOutlineParts;
  });
  const Reading* best = declared_and([&](const Reading& reading) { return seen_all_round(reading, blank); });
  if (best == nullptr && other == nullptr) best = declared_and(seen_but_for_an_end);
  if (best != nullptr) {
    const double share = other == nullptr ? 1.0 : best->log_ratio() / other->log_ratio();
    if (share >= kAsEvident) return {SlotState::found, {}, {}, best};
    if (share >= kLessEvident || !sharp_all_round(*other))
      return in_doubt("two outlines explain the picture, the declared one and another: " +
                          wrong_size_text(blank, *other),
                      "measure the blank with callipers");
  }
  if (other != nullptr) return judge_other(blank, *other);
  const Reading* partly = most_evident(readings, [&](const Reading& reading) {
    return reading.declared_size && reading.log_ratio() >= kMoreThanChance &&
           (reading.sides_shown() || reading.parts_shown() >= kOutlineParts - 1);
  });
  if (partly == nullptr) return {SlotState::empty, {"no blank: nothing there has the outline of one"}, {}, nullptr};
  if (partly->sides_shown() && (partly->end_denied[0] || partly->end_denied[1]))
    return in_doubt("its sides stop short of what looks like one of its ends, or run on beyond it", "look at both ends");
  return in_doubt("something lies there, but its outline is not clear enough to be measured",
                  "look at it, free its view or light it better");
}

}  // namespace jigtrue
