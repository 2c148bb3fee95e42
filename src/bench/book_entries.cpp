#include "bench/book_entries.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/layout/layout_dxf.hpp"
#include "jigtrue/report/standing.hpp"
#include "jigtrue/report/standing_style.hpp"

#include <cstddef>
#include <set>

namespace jigtrue {

BookSlot book_slot(const SlotResult& slot, bool placed, std::optional<std::int64_t> piece) {
  BookSlot out;
  out.id = slot.id;
  out.standing = style_of(standing(slot)).css_class;
  out.ready = placed;
  if (standing(slot) != Standing::ready) {
    const Attention need = attention(slot);
    out.finding = need.finding;
    out.action = need.action;
  }
  if (slot.numbers) {
    out.along_mm = slot.numbers->along_mm;
    out.across_mm = slot.numbers->across_mm;
    out.rotation_deg = slot.numbers->rotation_deg;
    out.u_along_mm = slot.numbers->uncertainty.along_mm;
    out.u_across_mm = slot.numbers->uncertainty.across_mm;
    out.u_rotation_deg = slot.numbers->uncertainty.rotation_deg;
  }
  out.piece = piece;
  return out;
}

BookLoad book_load(const CheckedLoad& checked, const Placement& placement,
                   const std::map<std::string, std::int64_t>& pieces) {
  BookLoad load;
  load.digest = checked.result.photo_digest;
  load.fixture = checked.result.fixture_name;
  load.headline = headline(checked.result);
  load.record = record_line(checked.record);
  std::set<std::string> placed;
  for (const PlacedDesign& one : placement.placed) placed.insert(one.slot_id);
  for (const SlotResult& slot : checked.result.slots) {
    const auto piece = pieces.find(slot.id);
    load.slots.push_back(book_slot(slot, placed.count(slot.id) > 0,
                                   piece != pieces.end() ? std::optional(piece->second) : std::nullopt));
  }
  return load;
}

std::vector<FileContent> book_files(const CheckedLoad& checked, const Placement& placement) {
  std::vector<FileContent> files = checked.files;
  files.push_back({"layout.dxf", layout_dxf(placement)});
  files.push_back({"closeup.jpg", checked.closeup});
  if (!checked.move_picture.empty()) files.push_back({"moved.jpg", checked.move_picture});
  return files;
}

std::map<std::string, std::string> outcomes_of(const InspectionResult& result) {
  std::map<std::string, std::string> out;
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    const InspectedSlot& slot = result.slots[i];
    if (slot.spoiled)
      out[slot.id] = "spoiled";
    else if (slot.state == MarkState::marked)
      out[slot.id] = "burned";
    else if (slot.state == MarkState::unmarked && result.blanks.slots[i].state != SlotState::empty)
      out[slot.id] = slot.wants_another_pass ? "pass" : "again";
  }
  return out;
}

std::string camera_standing(const CheckResult& result) {
  if (result.self_located) return "Placed by the jig's own marks";
  if (!result.witness) return "No marks on the bed tell whether it has moved";
  const WitnessFinding& marks = *result.witness;
  return std::to_string(marks.seen) + " of " + std::to_string(marks.kept) + " marks on the bed seen, the farthest " +
         fixed_text(marks.largest_mm, 2) + " mm (" + fixed_text(marks.largest_px, 1) + " px) off";
}

}  // namespace jigtrue
