#include "measurement/scout_refusals.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cstdio>
#include <string>
#include <variant>
#include <vector>

#include "measurement/bed_slots.hpp"

namespace jigtrue {
namespace {

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

std::vector<const ScoutedPlace*> of_another_size(const std::vector<ScoutedPlace>& others) {
  std::vector<const ScoutedPlace*> list;
  for (const ScoutedPlace& other : others)
    if (other.measured.state == SlotState::mismatch && other.measured.log_ratio >= kMoreThanChanceOnBed)
      list.push_back(&other);
  return list;
}

// Blanks that lie where they were measured to, along as well: a declared length that is not theirs leaves an end
// unseen.
std::size_t seen_whole(const std::vector<ScoutedPlace>& blanks) {
  constexpr double kEndUnseen_mm = 2.0;  // half-width along: an end that was seen is known better
  return static_cast<std::size_t>(std::count_if(blanks.begin(), blanks.end(), [&](const ScoutedPlace& blank) {
    return blank.measured.numbers && blank.measured.numbers->uncertainty.along_mm.value_or(0.0) < kEndUnseen_mm;
  }));
}

[[noreturn]] void refuse_another_size(const Scout& scout, const std::vector<const ScoutedPlace*>& others) {
  throw input_error(scout.photo.file,
                    counted(others.size(), "blank") + " of another size: " + others.front()->measured.reasons.front(),
                    "measure a blank with callipers and correct the file's \"blank\"");
}

std::string declared_size(const Blank& blank) {
  const std::string kind = std::string("a ") + kind_name(blank.shape) + " blank of ";
  const std::string girth = text_of("%g", largest_girth_mm(blank.shape));
  if (std::holds_alternative<DiscBlank>(blank.shape)) return kind + girth + " mm";
  return kind + text_of("%g", length_mm(blank.shape)) + " x " + girth + " mm";
}

// Where no blank was found and the plainest outlines end at the picture's rim, the jig is not in the picture as a
// whole.
void refuse_all_cut(const Scout& scout, const BlankSearch& search) {
  constexpr double kNearRim_mm = 8.0;   // of the picture
  constexpr std::size_t kLookedAt = 3;  // plainest proposals
  constexpr double kHalfABlank = 0.2;   // support: of its sides and one end
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

}  // namespace

double usual_support(const std::vector<ScoutedPlace>& blanks) {
  std::vector<double> supports;
  supports.reserve(blanks.size());
  for (const ScoutedPlace& blank : blanks) supports.push_back(blank.support);
  return median(supports).value_or(0.0);
}

void refuse_cut(const Scout& scout, const BlankSearch& search) {
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

void refuse_overlaps(const Scout& scout, const BlankSearch& search) {
  constexpr double kMargin_mm = 0.7;  // blanks may touch
  const auto refuse = [&](const Slot& a, const Slot& b) {
    throw input_error(scout.photo.file,
                      "two blanks lie one over the other, about " + place_text(0.5 * (a.centre_mm + b.centre_mm)),
                      "lay them apart, each in its slot");
  };
  const std::vector<ScoutedPlace>& blanks = search.blanks();
  for (std::size_t i = 0; i < blanks.size(); ++i)
    for (std::size_t j = 0; j < i; ++j)
      if (shared_area(blanks[i].slot, blanks[j].slot, kMargin_mm) > 0.0) refuse(blanks[i].slot, blanks[j].slot);
  // the upper one lies nearer to the camera, and seems larger
  for (const ScoutedPlace* other : of_another_size(search.others()))
    for (const ScoutedPlace& blank : blanks)
      if (lies_across(other->slot, blank.slot)) refuse(other->slot, blank.slot);
}

void refuse_two_kinds(const Scout& scout, const BlankSearch& search) {
  const auto others = of_another_size(search.others());
  const std::size_t alike = search.blanks().size();
  // a single one that fits among others that do not fits by chance
  const std::size_t whole = seen_whole(search.blanks());
  if (others.size() > 2 * whole || (alike == 1 && !others.empty())) refuse_another_size(scout, others);
  if (whole == 0)
    throw input_error(scout.photo.file,
                      "of " + counted(alike, "blank") + " none shows both its ends where " +
                          declared_size(scout.like.kind.blank) + " has them",
                      "measure a blank's length again, or free the ends");
  // one odd blank among several is a mistake in loading, which a check tells
  const bool several = others.size() >= 2 && 3 * others.size() >= alike;
  const bool among_two = !others.empty() && alike <= 2;
  if (!several && !among_two) return;
  throw input_error(scout.photo.file,
                    "two kinds of blanks: " + counted(search.blanks().size(), "blank") + " as declared, and " +
                        std::to_string(others.size()) + " whose " + others.front()->measured.reasons.front(),
                    "load the jig with one kind and scout it, then the other");
}

[[noreturn]] void refuse_none(const Scout& scout, BlankSearch& search, const std::vector<ProposedPlace>& other_sizes) {
  search.judge_other_sizes(other_sizes, 0.0, 12);
  const auto others = of_another_size(search.others());
  if (!others.empty()) refuse_another_size(scout, others);
  refuse_all_cut(scout, search);
  throw input_error(scout.photo.file,
                    "no blank is seen: nothing on the bed has the outline of " + declared_size(scout.like.kind.blank),
                    "see that the photo shows the loaded jig by this camera, and measure blank and seat again");
}

}  // namespace jigtrue
