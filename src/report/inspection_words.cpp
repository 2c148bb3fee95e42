#include "jigtrue/report/inspection_words.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/inspection/apply_beam.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numeric>

namespace jigtrue {
namespace {

bool is_in_order(const InspectedSlot& slot) {
  return !slot.is_due || (slot.state == MarkState::marked && slot.reasons.empty());
}

std::string proof_headline(const InspectionResult& result) {
  for (const InspectedSlot& slot : result.slots)
    if (slot.is_due)
      return slot.state == MarkState::marked
                 ? "The proof's frame is found on slot " + slot.id + "'s blank."
                 : "The proof's frame is not found on slot " + slot.id + "'s blank: a blank burned now is a risk.";
  return "The proof's slot is not among this jig's.";
}

std::string joined_reasons(const InspectedSlot& slot) {
  std::string out;
  for (const std::string& reason : slot.reasons) out += (out.empty() ? "" : "; ") + reason;
  return out;
}

std::string sized_cell(const std::optional<double>& value, int decimals, int width) {
  std::string text = value ? signed_text(*value, decimals) : "-";
  if (text.size() < static_cast<std::size_t>(width)) text.insert(0, static_cast<std::size_t>(width) - text.size(), ' ');
  return text;
}

}  // namespace

std::string inspection_headline(const InspectionResult& result) {
  if (result.proof) return proof_headline(result);
  std::size_t marked = 0;
  std::size_t due = 0;
  std::string list;
  for (const InspectedSlot& slot : result.slots) {
    if (slot.state == MarkState::marked) ++marked;
    if (slot.is_due) ++due;
    if (!is_in_order(slot)) list += (list.empty() ? "" : ", ") + slot.id;
  }
  const std::string count = std::to_string(marked) + " of " + std::to_string(due);
  return count + " slots carry their mark." + (list.empty() ? "" : " These need you: " + list + ".");
}

std::string beam_sentence(const InspectionResult& result) {
  const auto offset = result.beam_offset();
  if (!offset) return {};
  const int marks = result.beam->slots;
  std::string out = "By " + std::to_string(marks) + (marks == 1 ? " mark" : " marks") + " the beam lands " +
                    offset_text(*offset) + " from where the camera has it.";
  if (result.beam_applied) {
    const Vector2d left = offset->shift_mm - result.beam_applied->shift_mm;
    return out + " This load was laid out with " + signed_text(result.beam_applied->shift_mm.x(), 2) + " and " +
           signed_text(result.beam_applied->shift_mm.y(), 2) + " mm of that taken off; " + signed_text(left.x(), 2) +
           " and " + signed_text(left.y(), 2) + " mm are left.";
  }
  constexpr double kSure_mm = 0.03;  // a tenth of what makes lettering look off (common practice, no source)
  const bool matters = (offset->shift_mm.cwiseAbs() - offset->shift_u_mm).maxCoeff() > 0.0 ||
                       std::abs(offset->turn_deg) > offset->turn_u_deg;
  if (result.proof)
    return out + (matters ? " Lay the load out anew with --apply-beam and this inspection.json before a blank is spent."
                          : " That is no more than it is known by: the load may be burned as it is laid out.");
  if (matters) out += " --apply-beam with this inspection.json takes it off the next load's places.";
  if (const std::string stretch = stretch_text(offset->stretch); !stretch.empty())
    out += " Its places are stretched: " + stretch +
           (is_sure(offset->stretch) ? "." : "; nothing of that is sure, so none of it is taken off.");
  const auto more = [&](const char* what, double u_mm) {
    const int loads = loads_for(u_mm, offset->loads, kSure_mm) - offset->loads;
    if (loads > 0)
      out += " " + std::to_string(loads) + (loads == 1 ? " load" : " loads") + " more like this would make " + what +
             " sure to " + fixed_text(kSure_mm, 2) + " mm at the outermost slot.";
  };
  more("the shift", offset->shift_u_mm.maxCoeff());
  more("the turn", rad_from_deg(offset->turn_u_deg) * result.beam->reach_mm.maxCoeff());
  if (const auto& x = offset->stretch.scale_x) more("the scale along X", x->u95 * result.beam->reach_mm.x());
  if (const auto& y = offset->stretch.scale_y) more("the scale along Y", y->u95 * result.beam->reach_mm.y());
  if (const auto& square = offset->stretch.square_deg)
    more("the squareness", rad_from_deg(square->u95) * result.beam->reach_mm.y());
  return out;
}

std::string again_sentence(const InspectionResult& result) {
  std::string list;
  for (const InspectedSlot& slot : result.slots)
    if (slot.wants_another_pass) list += (list.empty() ? "" : ", ") + slot.id;
  return list.empty() ? std::string() : "Another pass would mend: " + list + ".";
}

std::vector<std::size_t> by_trouble(const InspectionResult& result) {
  std::vector<std::size_t> order(result.slots.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  const auto trouble = [&](std::size_t i) {
    const InspectedSlot& slot = result.slots[i];
    const double off = slot.from_blank_mm ? std::abs(slot.from_blank_mm->across_mm) : 0.0;
    if (!slot.is_due) return -1.0;
    if (slot.state == MarkState::doubtful) return 3e3 + off;
    if (slot.state == MarkState::unmarked) return 2e3 + off;
    return (slot.reasons.empty() ? 0.0 : 1e3) + off;
  };
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return trouble(a) > trouble(b); });
  return order;
}

std::string inspection_table(const InspectionResult& result) {
  std::string out =
      "slot      state     from blank: across +/-     along +/-    turn    from placed: across  along  contrast  "
      "even\n";
  for (const InspectedSlot& slot : result.slots) {
    out += terminal_cell(slot.id, 9) + " " + terminal_cell(to_string(slot.state), 9);
    const auto& blank = slot.from_blank_mm;
    const auto& placed = slot.from_placed_mm;
    const auto& u = slot.uncertainty;
    out += sized_cell(blank ? std::optional(blank->across_mm) : std::nullopt, 2, 18) + " ";
    out += (blank && u ? fixed_text(u->across_mm, 2) : std::string("   -")) + "  ";
    out += sized_cell(blank ? blank->along_mm : std::nullopt, 2, 8) + " ";
    out += (blank && u ? fixed_text(u->along_mm, 2) : std::string("   -"));
    out += sized_cell(slot.rotation_deg, 2, 8);
    out += sized_cell(placed ? std::optional(placed->across_mm) : std::nullopt, 2, 21);
    out += sized_cell(placed ? placed->along_mm : std::nullopt, 2, 8);
    out += sized_cell(slot.contrast, 2, 9) + sized_cell(slot.evenness, 2, 7) + "\n";
  }
  out += inspection_headline(result) + "\n";
  for (const InspectedSlot& slot : result.slots)
    if (slot.is_due && !slot.reasons.empty())
      out += "  slot " + terminal_text(slot.id + ": " + joined_reasons(slot)) +
             (slot.remedy.empty() ? "" : ": " + terminal_text(slot.remedy)) + "\n";
  if (const std::string again = again_sentence(result); !again.empty()) out += again + "\n";
  if (const std::string beam = beam_sentence(result); !beam.empty()) out += beam + "\n";
  return out;
}

}  // namespace jigtrue
