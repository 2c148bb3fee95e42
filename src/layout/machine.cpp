#include "jigtrue/layout/machine.hpp"

#include "jigtrue/json/json_file.hpp"

namespace jigtrue {

namespace {

constexpr JsonForm kMachineForm{"a machine file", "jigtrue.machine/1", "", 1u << 20, 10'000};
constexpr JsonRange kBed{1.0, 20'000.0};
constexpr JsonRange kHead{-100'000.0, 100'000.0};

Vector2d read_bed(const JsonField& root) {
  const JsonField bed = root.at("bed_mm", "add \"bed_mm\": [400, 400] (width, depth)");
  bed.require_list(2, 2, "write [width, depth], like [400, 400]");
  return {bed[0].number(kBed), bed[1].number(kBed)};
}

OriginCorner read_corner(const JsonField& root) {
  const std::string remedy = "use \"front-left\", \"front-right\", \"back-left\" or \"back-right\"";
  const JsonField field = root.at("origin_corner", remedy);
  const std::string name = field.text();
  for (const OriginCorner corner :
       {OriginCorner::front_left, OriginCorner::front_right, OriginCorner::back_left, OriginCorner::back_right}) {
    if (name == to_string(corner)) return corner;
  }
  throw field.error(shown_text(name) + " is no corner", remedy);
}

std::optional<Vector3d> read_head(const JsonField& root) {
  const std::string remedy = "use \"vertical\", or {\"from_mm\": [x, y, z]} for a scanning head";
  const std::optional<JsonField> beam = root.find("beam");
  if (!beam) return std::nullopt;
  if (!beam->is_object()) {
    if (beam->is_null() || beam->is_number() || beam->text() != "vertical")
      beam->fail("must be \"vertical\" or an object", remedy);
    return std::nullopt;
  }
  beam->require_fields({"from_mm"}, "a beam");
  const JsonField from = beam->at("from_mm", remedy);
  from.require_list(3, 3, "write [x, y, z], like [200, 200, 350]");
  const Vector3d head(from[0].number(kHead), from[1].number(kHead), from[2].number(kHead));
  if (!(head.z() > 0.0))
    throw from.error("the head must hang above the bed (z > 0)",
                     "give the place that the beam pivots about, in mm from the machine's own origin");
  return head;
}

}  // namespace

const char* to_string(OriginCorner corner) {
  switch (corner) {
    case OriginCorner::front_left:
      return "front-left";
    case OriginCorner::front_right:
      return "front-right";
    case OriginCorner::back_left:
      return "back-left";
    case OriginCorner::back_right:
      return "back-right";
  }
  return "front-left";
}

Vector2d Machine::front_left_mm() const {
  const bool right = origin_corner == OriginCorner::front_right || origin_corner == OriginCorner::back_right;
  const bool back = origin_corner == OriginCorner::back_left || origin_corner == OriginCorner::back_right;
  return {right ? -bed_mm.x() : 0.0, back ? -bed_mm.y() : 0.0};
}

Machine read_machine(const std::string& json_text, const std::string& file_name) {
  const JsonFile file(json_text, file_name, kMachineForm);
  const JsonField root = file.checked_root();
  root.require_fields({"schema", "name", "bed_mm", "origin_corner", "beam"}, "a machine file");
  Machine machine;
  machine.bed_mm = read_bed(root);
  machine.origin_corner = read_corner(root);
  machine.scanning_head_mm = read_head(root);
  return machine;
}

}  // namespace jigtrue
