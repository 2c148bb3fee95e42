#include "jigtrue/layout/proof.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <utility>

namespace jigtrue {
namespace {

constexpr double kLine_mm = 0.1;  // as wide as a beam burns it (common practice, no source)

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

// Strokes at both ends, a line along the middle, and a zigzag from side to side whose turning points divide the length
// as a Golomb ruler does (order 8; G. S. Bloom & S. W. Golomb, Proc. IEEE 65, 1977): no two of its slants are alike, so
// no shift lays one on another, and none runs as grain does, or an edge of tape.
std::vector<std::vector<Vector2d>> frame_lines(const DesignBox& box) {
  constexpr std::array kRuler = {0, 1, 4, 9, 15, 22, 32, 34};
  const double x = box.width_mm / 2.0;
  const double y = box.height_mm / 2.0;
  std::vector<Vector2d> zigzag;
  for (const int mark : kRuler) {
    const double side = zigzag.size() % 2 == 0 ? -y : y;
    zigzag.emplace_back(-x + box.width_mm * mark / kRuler.back(), side);
  }
  return {{{-x, -y}, {-x, y}}, {{x, -y}, {x, y}}, {{-x, 0.0}, {x, 0.0}}, zigzag};
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
  Proof proof;
  proof.placement = placement;
  proof.placement.proof = true;
  proof.placement.placed.assign(1, *farthest);
  proof.placement.placed.front().passes = proof_frame(*farthest->design);
  for (const PlacedDesign& placed : placement.placed)
    if (placed.slot_id != farthest->slot_id)
      proof.placement.left_out.push_back(
          {placed.slot_id, "the proof is burned in slot " + farthest->slot_id + " alone"});
  const SlotResult& slot = slot_of(result, farthest->slot_id);
  proof.round = slot.room && slot.room->diameter_mm && !slot.room->disc_radius_mm;
  if (slot.room) proof.distances = distances_to(*slot.room, *farthest->design);
  return proof;
}

std::shared_ptr<const std::vector<Pass>> proof_frame(const DesignBox& box) {
  std::vector<InkShape> shapes;
  for (const std::vector<Vector2d>& points : frame_lines(box)) {
    SubPath path;
    path.start = points.front();
    path.segments.resize(points.size() - 1);
    for (std::size_t i = 1; i < points.size(); ++i) path.segments[i - 1].end = points[i];
    InkShape shape;
    shape.outline.push_back(std::move(path));
    shape.stroke = Stroke{};
    shape.stroke->colour = "#000000";
    shape.stroke->pen *= kLine_mm;
    shape.stroke->cap = LineCap::round;
    shape.stroke->join = LineJoin::round;
    shapes.push_back(std::move(shape));
  }
  return std::make_shared<const std::vector<Pass>>(std::vector<Pass>{{"", shapes, std::nullopt}});
}

std::string proof_svg(const Proof& proof) {
  const std::string width = three(proof.placement.page.size_mm.x());
  const std::string height = three(proof.placement.page.size_mm.y());
  std::string lines;
  for (const std::vector<Vector2d>& points : frame_lines(*proof.design().design)) {
    lines += "<path d=\"";
    for (const Vector2d& point : points)
      lines += (&point == &points.front() ? "M" : " L") + three(point.x()) + " " + three(point.y());
    lines += "\"/>\n";
  }
  return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" "
         "width=\"" +
         width + "mm\" height=\"" + height + "mm\" viewBox=\"0 0 " + width + " " + height +
         "\">\n<title>Proof: the frame of slot " + markup_text(proof.design().slot_id) +
         "</title>\n<desc>True millimetres, the page as the layout has it. Burn lightly, on tape.</desc>\n<g id=\"" +
         proof.design().xml_id + "\" data-slot=\"" + markup_text(proof.design().slot_id) + "\" transform=\"translate(" +
         three(proof.design().centre_mm.x()) + " " + three(proof.design().centre_mm.y()) + ") rotate(" +
         fixed_text(proof.design().turn_deg, 4) + ")\" fill=\"none\" stroke=\"#000000\" stroke-width=\"" +
         fixed_text(kLine_mm, 1) + "\" stroke-linecap=\"round\" stroke-linejoin=\"round\">\n" + lines +
         "</g>\n</svg>\n";
}

}  // namespace jigtrue
