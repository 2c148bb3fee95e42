#include "jigtrue/layout/proof.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>

namespace jigtrue {
namespace {

std::string three(double value) { return fixed_text(value, 3); }

const SlotResult& slot_of(const CheckResult& result, const std::string& id) {
  return *std::find_if(result.slots.begin(), result.slots.end(), [&](const SlotResult& slot) { return slot.id == id; });
}

std::vector<ProofDistance> distances_to(const DesignRoom& room, const DesignBox& box) {
  if (room.disc_radius_mm || room.forward_mm > 1e6) return {};  // a disc has no ends; an old report does not say
  const double half_width = box.width_mm / 2.0;
  std::vector<ProofDistance> list = {{"the blank's start", room.backward_mm - half_width, room.u_along_mm},
                                     {"the blank's end", room.forward_mm - half_width, room.u_along_mm}};
  if (room.diameter_mm) return list;
  const double half_height = box.height_mm / 2.0;
  list.push_back(
      {"the blank's left edge, looking from its start to its end", room.left_mm - half_height, room.u_across_mm});
  list.push_back({"the blank's right edge", room.right_mm - half_height, room.u_across_mm});
  return list;
}

}  // namespace

Proof proof_of(const CheckResult& result, const std::optional<Machine>& machine, const std::string& where) {
  const Placement placement = place_designs(result, machine);
  const PlacedDesign* farthest = nullptr;
  for (const PlacedDesign& placed : placement.placed)
    if (placed.design && (farthest == nullptr || placed.bed_centre_mm.norm() > farthest->bed_centre_mm.norm()))
      farthest = &placed;
  if (farthest == nullptr)
    throw input_error(where,
                      placement.placed.empty() ? "no slot is ready, so there is no place to prove"
                                               : "no ready slot has a design, so there is no frame to burn",
                      placement.placed.empty()
                          ? "mend what its report.html names"
                          : "check with --design, or give \"design\" in the fixture file its width and height");
  Proof proof{*farthest, placement.page, {}, false};
  const SlotResult& slot = slot_of(result, farthest->slot_id);
  proof.round = slot.room && slot.room->diameter_mm && !slot.room->disc_radius_mm;
  if (slot.room) proof.distances = distances_to(*slot.room, *farthest->design);
  return proof;
}

std::string proof_svg(const Proof& proof) {
  const std::string width = three(proof.page.size_mm.x());
  const std::string height = three(proof.page.size_mm.y());
  const DesignBox& box = *proof.design.design;
  const std::string x = three(box.width_mm / 2.0);
  const std::string y = three(box.height_mm / 2.0);
  return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" "
         "width=\"" +
         width + "mm\" height=\"" + height + "mm\" viewBox=\"0 0 " + width + " " + height +
         "\">\n<title>Proof: the frame of slot " + markup_text(proof.design.slot_id) +
         "</title>\n<desc>True millimetres, the page as the layout has it. Burn lightly, on tape.</desc>\n<g id=\"" +
         proof.design.xml_id + "\" data-slot=\"" + markup_text(proof.design.slot_id) + "\" transform=\"translate(" +
         three(proof.design.centre_mm.x()) + " " + three(proof.design.centre_mm.y()) + ") rotate(" +
         fixed_text(proof.design.turn_deg, 4) +
         ")\" fill=\"none\" stroke=\"#000000\" stroke-width=\"0.1\">\n<rect x=\"-" + x + "\" y=\"-" + y +
         "\" width=\"" + three(box.width_mm) + "\" height=\"" + three(box.height_mm) + "\"/>\n<path d=\"M-" + x +
         " 0L" + x + " 0\"/>\n<path d=\"M0 -" + y + "L0 " + y + "\"/>\n</g>\n</svg>\n";
}

}  // namespace jigtrue
