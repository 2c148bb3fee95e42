#include "jigtrue/layout/fit_artwork.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/layout/usable_band.hpp"

#include <algorithm>
#include <map>
#include <memory>
#include <utility>

namespace jigtrue {

std::optional<TextRoom> text_room(const SlotResult& slot) {
  if (slot.state != SlotState::found || !slot.numbers) return std::nullopt;
  TextRoom room{1e9, 1e9};
  if (slot.room) {
    room.height_mm = 2.0 * (std::min(slot.room->left_mm, slot.room->right_mm) - slot.room->u_across_mm);
    room.width_mm = 2.0 * (std::min(slot.room->forward_mm, slot.room->backward_mm) - slot.room->u_along_mm);
  }
  if (slot.design) {
    room.height_mm = std::min(room.height_mm, slot.design->height_mm);
    room.width_mm = std::min(room.width_mm, slot.design->width_mm);
  }
  if (room.height_mm > 1e6 || !(room.height_mm > 0.1))
    throw input_error("slot " + slot.id, "the report tells of no room for letters there",
                      "declare a design in the fixture file and check the photo again");
  return room;
}

void fit_artwork(CheckResult& result, DesignArt& art, bool wrap) {
  std::map<std::shared_ptr<const std::vector<Pass>>, Vector2d> sizes;  // most slots share their artwork
  const auto size_of = [&sizes](const std::shared_ptr<const std::vector<Pass>>& passes) {
    const auto [at, is_new] = sizes.try_emplace(passes, Vector2d::Zero());
    if (is_new) {
      const InkBox ink = ink_of(*passes);
      at->second = 2.0 * ink.low.cwiseAbs().cwiseMax(ink.high.cwiseAbs());
    }
    return at->second;
  };
  for (SlotResult& slot : result.slots) {
    const auto passes = art.of(slot.id);
    if (passes == nullptr || !slot.numbers) continue;
    auto burned = passes;
    if (wrap && slot.room && slot.room->diameter_mm && !slot.room->disc_radius_mm) {
      auto round = wrapped(*passes, *slot.room->diameter_mm / 2.0, rad_from_deg(slot.room->lean_deg));
      if (!round) {
        slot.design_fits = false;
        slot.design_note = "the design reaches more than a quarter of the way round the blank: make it lower";
        continue;
      }
      burned = std::make_shared<const std::vector<Pass>>(*std::move(round));
      art.own[slot.id] = burned;
    }
    const Vector2d size = size_of(burned);
    slot.design = DesignBox{size.x(), size.y()};
    if (slot.room) judge_design(slot);
  }
}

}  // namespace jigtrue
