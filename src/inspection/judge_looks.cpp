#include "jigtrue/inspection/judge_looks.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/measurement/readiness.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <string>

namespace jigtrue {
namespace {

// A mark of three quarters of the usual contrast looks pale beside it, a tenth less light beside the ink looks scorched
// (common practice, no source).
constexpr double kPaleShare = 0.75;
constexpr double kEven = 0.75;
constexpr double kScorch = 0.1;
constexpr std::size_t kFewestMarks = 3;  // of fewer marks none is the odd one out

constexpr const char* kOnceMore = "again.svg burns it once more at its place";

std::optional<double> usual(const std::vector<double>& values) {
  if (values.size() < kFewestMarks) return std::nullopt;
  return median(values);
}

void add_reason(const std::string& reason, const std::string& remedy, InspectedSlot& slot) {
  slot.reasons.push_back(reason);
  slot.remedy = remedy;
}

// `against`: what a mark's contrast usually comes to.
bool is_pale(const InspectedSlot& slot, double against) {
  const double size = *slot.contrast * (against < 0.0 ? -1.0 : 1.0);
  return size + slot.contrast_u.value_or(0.0) < kPaleShare * std::abs(against);
}

void judge_contrast(const std::optional<double>& here, const std::optional<double>& before, InspectedSlot& slot) {
  const auto say = [&](double against, const char* whose) {
    add_reason("it came out pale: contrast " + fixed_text(std::abs(*slot.contrast), 2) + ", " + whose + " " +
                   fixed_text(std::abs(against), 2),
               kOnceMore, slot);
    slot.wants_another_pass = true;
  };
  if (here && is_pale(slot, *here))
    say(*here, "this load's others");
  else if (before && is_pale(slot, *before))
    say(*before, "earlier loads'");
}

void judge_surface(double usual_halo, InspectedSlot& slot) {
  if (slot.evenness && *slot.evenness < kEven) {
    add_reason("it is patchy: its contrast scatters by " + fixed_text(100.0 * (1.0 - *slot.evenness), 0) +
                   " % along the drawing",
               kOnceMore, slot);
    slot.wants_another_pass = true;
  }
  if (slot.halo && *slot.halo - slot.halo_u.value_or(0.0) > kScorch && *slot.halo - usual_halo > kScorch) {
    add_reason("it is scorched: the ground at its ink's edges is darker by " + fixed_text(100.0 * *slot.halo, 0) + " %",
               "less power or more air for this wood", slot);
    slot.wants_another_pass = false;
  } else if (slot.smoke && *slot.smoke - slot.smoke_u.value_or(0.0) > kScorch) {
    add_reason("smoke has stained the ground around it: darker by " + fixed_text(100.0 * *slot.smoke, 0) +
                   " % than the rest of the blank",
               "see whether it wipes off; more air, or tape, for the next load", slot);
  }
}

void note_pale_load(const std::optional<double>& here, const std::optional<double>& before, int loads,
                    InspectionResult& result) {
  if (!here || !before || std::abs(*here) >= kPaleShare * std::abs(*before)) return;
  result.notes.push_back("This load is paler as a whole: contrast " + fixed_text(std::abs(*here), 2) + ", that of " +
                         std::to_string(loads) + " earlier load" + (loads == 1 ? "" : "s") + " " +
                         fixed_text(std::abs(*before), 2) + ". Look at lens, focus and speed.");
}

}  // namespace

void judge_looks(const EarlierLooks& earlier, InspectionResult& result) {
  std::vector<double> contrasts;
  std::vector<double> halos;
  for (const InspectedSlot& slot : result.slots) {
    if (slot.state != MarkState::marked || !slot.contrast) continue;
    contrasts.push_back(*slot.contrast);
    if (slot.halo) halos.push_back(*slot.halo);
  }
  const auto here = usual(contrasts);
  const auto before = usual(earlier.contrasts);
  const double usual_halo = usual(halos).value_or(0.0);
  note_pale_load(here, before, earlier.loads, result);
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    InspectedSlot& slot = result.slots[i];
    if (slot.state == MarkState::marked && slot.contrast) {
      judge_contrast(here, before, slot);
      judge_surface(usual_halo, slot);
    }
    const bool forgotten = slot.state == MarkState::unmarked && slot.was_placed && is_ready(result.blanks.slots[i]);
    if (!forgotten || contrasts.empty()) continue;
    slot.wants_another_pass = true;
    slot.remedy = "again.svg burns it";
  }
}

}  // namespace jigtrue
