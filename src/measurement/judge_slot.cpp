#include "jigtrue/measurement/judge_slot.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>

namespace jigtrue {
namespace {

// Log ratios: another size is looked for among some hundred.
constexpr double kOfManySizes = 6.0;
// With less than this nothing is there: what one empty slot in a thousand shows by chance, log(1e5 1e3).
constexpr double kPerhapsChance = 18.4;
// Prior log odds: of a blank of the declared size against one of any other (one load in a hundred holds a wrong one),
// and of another blank against a slot's own walls, seen all round.
constexpr double kMostAreDeclared = 4.6;
constexpr double kWallsAreCommon = 2.3;
constexpr double kSure = 3.0;  // log odds, 20 to 1
// To claim another size although the declared one is seen all round: shadows and walls beside a blank make one up, and
// more plainly than chance does.
constexpr double kSureOfOther = 12.0;
constexpr double kSharpShare = 0.66;  // of each part's stretches

std::string mm_text(double value_mm, int decimals) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", decimals, value_mm);
  return text;
}

Judgement in_doubt(const std::string& reason, const std::string& remedy = {}) {
  return {SlotState::doubtful, {reason}, remedy, nullptr};
}

// Each side was looked for over the whole slot: that something lies along it here must be more than its luck, too.
bool sides_beyond_luck(const Reading& reading) {
  return std::min(reading.evidence[static_cast<std::size_t>(OutlinePart::left)].independent_log_ratio(),
                  reading.evidence[static_cast<std::size_t>(OutlinePart::right)].independent_log_ratio()) >= kSure;
}

// A disc's quadrants are one rim: three of them leave no other disc.
bool seen_all_round(const Reading& reading, const Blank& blank) {
  if (std::holds_alternative<DiscBlank>(blank.shape)) return reading.parts_shown() >= kOutlineParts - 1;
  return reading.parts_shown() == kOutlineParts && sides_beyond_luck(reading);
}

// A groove's walls are straight. Sides that follow a taper nearly everywhere are a blank's own.
bool follows_a_taper(const Reading& reading, const Blank& blank) {
  constexpr double kTapers_mm = 1.0;  // of the profile's girths: less is a barrel
  constexpr double kNearlyAll = 0.9;  // of each side's stretches
  const auto* turned = std::get_if<TurnedBlank>(&blank.shape);
  if (turned == nullptr) return false;
  const auto [slimmest, widest] =
      std::minmax_element(turned->profile.begin(), turned->profile.end(),
                          [](const ProfilePoint& a, const ProfilePoint& b) { return a.diameter_mm < b.diameter_mm; });
  return widest->diameter_mm - slimmest->diameter_mm > kTapers_mm &&
         std::min(reading.evidence[static_cast<std::size_t>(OutlinePart::left)].share(),
                  reading.evidence[static_cast<std::size_t>(OutlinePart::right)].share()) >= kNearlyAll;
}

// Both sides and one end of a surface of its own, or of a form of its own: the other end may be hidden, as long as
// nothing denies it.
bool seen_but_for_an_end(const Reading& reading, const Blank& blank) {
  if (!reading.sides_shown() || reading.parts_shown() < kOutlineParts - 1 || !sides_beyond_luck(reading)) return false;
  return !reading.end_denied[0] && !reading.end_denied[1] &&
         (reading.two_materials > kSure || follows_a_taper(reading, blank));
}

bool sharp_all_round(const Reading& reading) {
  if (reading.log_ratio() < kPlainLogRatio) return false;
  for (const PartEvidence& part : reading.evidence)
    if (!is_shown(part) || part.share() < kSharpShare) return false;
  return true;
}

template <class Which>
const Reading* most_evident(const Readings& readings, const Which& which) {
  const Reading* best = nullptr;
  for (const auto* list : {&readings.declared, &readings.other_sizes})
    for (const Reading& reading : *list)
      if (which(reading) && (best == nullptr || reading.weight_of_evidence() > best->weight_of_evidence()))
        best = &reading;
  return best;
}

std::string girth_word(const Blank& blank) {
  return std::holds_alternative<PlateBlank>(blank.shape) ? "height" : "diameter";
}

std::string wrong_size_text(const Blank& blank, const Reading& reading) {
  if (!is_of_declared_girth(reading, blank))
    return girth_word(blank) + " measures " + mm_text(largest_girth_mm(blank.shape) + reading.fit.girth_free_mm, 2) +
           " mm, declared " + mm_text(largest_girth_mm(blank.shape), 2) + " mm";
  return "length measures " + mm_text(length_mm(blank.shape) + reading.fit.place.length_mm, 1) + " mm, declared " +
         mm_text(length_mm(blank.shape), 1) + " mm";
}

// A slot's own walls enclose the declared blank: at least as wide and as long as it.
bool could_be_walls(const Reading& other, const Blank& blank) {
  return other.fit.girth_free_mm > -girth_limits(other, blank).below_mm &&
         (std::holds_alternative<DiscBlank>(blank.shape) ||
          other.fit.place.length_mm > -blank.length_tolerance_mm - kEndForm_mm);
}

// An outline may be too unlike the declared one to be seen; where what it encloses is of another material than what
// lies around, something lies there all the same: a slot's floor and walls are lit differently, not made differently.
bool has_a_surface_of_its_own(const Readings& readings) {
  constexpr double kAnotherMaterial = 12.0;  // log ratio: light alone makes as much once in 160,000 slots
  return std::any_of(readings.declared.begin(), readings.declared.end(),
                     [](const Reading& reading) { return reading.two_materials >= kAnotherMaterial; });
}

Judgement nothing_there() {
  return {SlotState::empty, {"no blank: nothing there has the outline of one"}, {}, nullptr};
}

// How far two readings' outlines lie apart at either side, mm: left, right.
Vector2d sides_apart_mm(const Reading& a, const Reading& b) {
  const double heading = a.fit.place.heading_rad;
  const Vector2d across = turned_left(unit_vector(heading));
  const double shift = (b.fit.place.centre_mm - a.fit.place.centre_mm).dot(across);
  const double wider = 0.5 * (b.fit.place.girth_mm - a.fit.place.girth_mm);
  return {shift + wider, -shift + wider};
}

constexpr double kApart_mm = 0.3;  // with less, two sides are one

// A ring, a groove or a chamfer of the blank lies within it, a pocket's rim around it; what shares one of its sides,
// and not the other, is a blank of another size whose outline was made up to the declared one by something beside it.
bool lies_within(const Reading& best, const Reading& other) {
  constexpr double kAskew = 0.3;  // the nearer side lies at least so far off, of the further one's distance
  const Vector2d apart = sides_apart_mm(best, other);
  return apart.maxCoeff() < -std::max(kApart_mm, kAskew * apart.cwiseAbs().maxCoeff());
}
bool within_or_around(const Reading& best, const Reading& other) {
  return lies_within(best, other) || lies_within(other, best);
}

Judgement too_little_seen(const std::string& reason, const std::string& remedy) {
  Judgement judgement = in_doubt(reason, remedy);
  judgement.too_little_seen = true;
  return judgement;
}

Judgement with_outline(Judgement judgement, const Reading& of_another_size) {
  judgement.of_another_size = &of_another_size;
  return judgement;
}

// `partly`: an outline of the declared blank that is seen for the most part, if any.
Judgement judge_other(const Blank& blank, const Reading& other, const Reading* partly) {
  const std::string text = wrong_size_text(blank, other);
  if (could_be_walls(other, blank)) {
    const double odds = other.two_materials - kWallsAreCommon;
    if (odds < 0.0 && partly == nullptr) return nothing_there();
    if (odds < kSure)
      return in_doubt(text + ", unless these are the slot's own walls", "look whether a blank lies there");
  }
  if (std::holds_alternative<DiscBlank>(blank.shape) && partly != nullptr && lies_within(*partly, other))
    return in_doubt(text + ", unless that is a ring on the blank's own face", "measure the blank with callipers");
  const bool of_other_length = is_of_declared_girth(other, blank);
  // a ring or a joint ends as a blank does: the picture alone does not tell a turned one's length
  if (of_other_length && std::holds_alternative<TurnedBlank>(blank.shape))
    return with_outline(in_doubt(text + ", unless a joint was taken for an end", "look at both ends"), other);
  if (!sharp_all_round(other))
    return with_outline(in_doubt(text + ", but not clearly", "measure the blank with callipers"), other);
  return {SlotState::mismatch, {text}, {}, &other};
}

double thickness_mm(const Blank& blank) {
  if (const auto* plate = std::get_if<PlateBlank>(&blank.shape)) return plate->thickness_mm;
  const auto* disc = std::get_if<DiscBlank>(&blank.shape);
  return disc != nullptr ? disc->thickness_mm : 0.0;
}

// A flat blank's own side, where the camera sees it: the outline of face and side together shares the face's other
// edge, and reaches no further than the blank is thick (seen from above by less than 45 degrees aslant).
bool could_be_its_side(const Reading& best, const Reading& other, const Blank& blank) {
  const Vector2d apart = sides_apart_mm(best, other);
  return apart.minCoeff() > -kApart_mm && apart.maxCoeff() < thickness_mm(blank);
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
    return !is_of_declared_size(reading, blank) && reading.log_ratio() >= kMoreThanChance + kOfManySizes &&
           reading.parts_shown() == kOutlineParts;
  });
  const Reading* best = declared_and([&](const Reading& reading) { return seen_all_round(reading, blank); });
  if (best == nullptr && other == nullptr)
    best = declared_and([&](const Reading& reading) { return seen_but_for_an_end(reading, blank); });
  const Reading* partly = most_evident(readings, [&](const Reading& reading) {
    return reading.declared_size && reading.log_ratio() >= kPerhapsChance &&
           (reading.sides_shown() || reading.parts_shown() >= kOutlineParts - 1);
  });
  const auto odds_against = [&](const Reading& declared, const Reading& another) {
    return declared.weight_of_evidence() - another.weight_of_evidence() + kMostAreDeclared +
           (another.declared_size ? 0.0 : kOfManySizes);
  };
  const auto two_outlines = [&] {
    return in_doubt("two outlines explain the picture, the declared one and another: " + wrong_size_text(blank, *other),
                    "measure the blank with callipers");
  };
  if (best != nullptr) {
    if (other == nullptr || within_or_around(*best, *other)) return {SlotState::found, {}, {}, best};
    const double odds = odds_against(*best, *other);
    if (odds > (could_be_its_side(*best, *other, blank) ? -kSureOfOther : kSure))
      return {SlotState::found, {}, {}, best};
    if (odds > -kSureOfOther || !sharp_all_round(*other)) return two_outlines();
  } else if (  // walls and shadows lie around a blank: with one of its sides they make up a larger one
      other != nullptr && could_be_walls(*other, blank) && partly != nullptr && partly->sides_shown() &&
      partly->log_ratio() >= kMoreThanChance && odds_against(*partly, *other) > -kSureOfOther) {
    return two_outlines();
  }
  if (other != nullptr) return judge_other(blank, *other, partly);
  if (partly == nullptr && has_a_surface_of_its_own(readings))
    return too_little_seen(
        "something of another surface than around lies there, but without the outline of the declared blank",
        "look what lies there, and whether the fixture file declares it rightly");
  if (partly == nullptr) return nothing_there();
  // sides as far apart as the blank is wide, and no end: a groove
  const auto no_edge_at = [&](OutlinePart end) { return !is_shown(partly->evidence[static_cast<std::size_t>(end)]); };
  if (no_edge_at(OutlinePart::start) && no_edge_at(OutlinePart::end) && partly->two_materials < 0.0)
    return nothing_there();
  if (partly->sides_shown() && (partly->end_denied[0] || partly->end_denied[1]))
    return in_doubt("its sides stop short of what looks like one of its ends, or run on beyond it",
                    "look at both ends");
  return too_little_seen("something lies there, but its outline is not clear enough to be measured",
                         "look at it, free its view or light it better");
}

}  // namespace jigtrue
