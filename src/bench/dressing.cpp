#include "bench/dressing.hpp"

#include "jigtrue/layout/fit_artwork.hpp"
#include "jigtrue/measurement/readiness.hpp"

#include <algorithm>
#include <vector>

namespace jigtrue {
namespace {

// Names in one size for the whole batch, so that its loads look alike: as tall as the slots allow, or as the longest
// name does.
class NameSetter {
 public:
  NameSetter(const DeskSetup& setup, const std::vector<Piece>& batch, const PassTiming* timing)
      : font_(*setup.font), height_mm_(setup.text_height_mm), timing_(timing) {
    for (const Piece& piece : batch)
      if (!piece.text.empty()) rows_.push_back({std::to_string(piece.number), piece.text, {}, 0});
  }

  [[nodiscard]] NameSetting set(const TextRoom& room) const {
    std::map<std::string, TextRoom> rooms;
    for (const NameRow& row : rows_) rooms[row.slot_id] = {1e9, height_mm_ ? 1e9 : room.height_mm};
    NameSetting setting = set_names(rows_, font_, rooms, height_mm_, timing_, "the batch");
    if (height_mm_) return setting;
    double widest_mm = 0.0;
    for (const auto& [piece, passes] : setting.by_slot) widest_mm = std::max(widest_mm, ink_of(*passes).size().x());
    if (widest_mm <= room.width_mm) return setting;
    // a hair less, as rounding in the files must not push it over
    const double height_mm = setting.height_mm * (room.width_mm - 0.002) / widest_mm;
    return set_names(rows_, font_, rooms, height_mm, timing_, "the batch");
  }

 private:
  const OutlineFont& font_;
  std::optional<double> height_mm_;
  const PassTiming* timing_;
  std::vector<NameRow> rows_;
};

TextRoom least_room(const CheckResult& result) {
  TextRoom least{1e9, 1e9};
  for (const SlotResult& slot : result.slots) {
    if (!is_ready(slot)) continue;
    const std::optional<TextRoom> room = text_room(slot);
    if (!room) continue;
    least.width_mm = std::min(least.width_mm, room->width_mm);
    least.height_mm = std::min(least.height_mm, room->height_mm);
  }
  return least;
}

std::vector<std::string> ready_slots(const CheckResult& result) {
  std::vector<std::string> ids;
  for (const SlotResult& slot : result.slots)
    if (is_ready(slot)) ids.push_back(slot.id);
  return ids;
}

}  // namespace

Dressing dressed(const DeskSetup& setup, const Book& book, const std::optional<Batch>& batch, const DesignOffer* design,
                 const DesignArt& usual, CheckResult& result) {
  Dressing out{{}, usual};
  if (!batch || batch->left() == 0) return out;
  const std::vector<std::string> slots = ready_slots(result);
  const std::vector<Piece> waiting = book.waiting(batch->id, slots.size());
  for (std::size_t i = 0; i < waiting.size(); ++i) out.pieces[slots[i]] = waiting[i].number;
  if (batch->named && setup.font && !slots.empty()) {
    const PassTiming* timing = design != nullptr && design->names_timing ? &*design->names_timing : nullptr;
    const NameSetting names = NameSetter(setup, book.pieces(batch->id), timing).set(least_room(result));
    out.art = {};
    for (const auto& [slot, piece] : out.pieces) {
      const auto passes = names.by_slot.find(std::to_string(piece));
      if (passes != names.by_slot.end()) out.art.own[slot] = passes->second;
    }
    fit_artwork(result, out.art, false);
  } else if (usual.common != nullptr) {
    out.art = {};
    for (const auto& [slot, piece] : out.pieces) out.art.own[slot] = usual.common;
  }
  return out;
}

}  // namespace jigtrue
