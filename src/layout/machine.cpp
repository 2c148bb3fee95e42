#include "jigtrue/layout/machine.hpp"

#include "jigtrue/base/error.hpp"

#include <cmath>
#include <set>

#include <nlohmann/json.hpp>

namespace jigtrue {

namespace {

using nlohmann::json;

constexpr const char* kSchema = "jigtrue.machine/1";
constexpr double kLargestBed_mm = 20'000.0;
constexpr double kFarthestHead_mm = 100'000.0;

std::string shown_value(const json& value) {
  const std::string text = value.dump(-1, ' ', true, json::error_handler_t::replace);
  return text.size() <= 60 ? text : text.substr(0, 57) + "...";
}

json parse(const std::string& text, const std::string& file) {
  try {
    return json::parse(text, nullptr, true, true);
  } catch (const json::parse_error& error) {
    throw input_error(file, "is not valid JSON near byte " + std::to_string(error.byte),
                      "look for a missing comma, quote or bracket there");
  } catch (const json::exception&) {
    throw input_error(file, "holds a number too large to read", "give lengths in mm");
  }
}

const json& field(const json& object, const std::string& file, const char* name, const char* example) {
  const auto found = object.find(name);
  if (found == object.end()) {
    throw input_error(file, std::string("field \"") + name + "\" is missing", std::string("add ") + example);
  }
  return *found;
}

// An array of so many finite numbers.
VectorXd numbers(const json& value, Eigen::Index count, const std::string& file, const std::string& name,
                 const char* example) {
  const auto refuse = [&] {
    return input_error(file, name + " is " + shown_value(value) + ", not " + std::to_string(count) + " numbers",
                       std::string("write it like ") + example);
  };
  if (!value.is_array() || value.size() != static_cast<std::size_t>(count)) throw refuse();
  VectorXd out(count);
  for (Eigen::Index i = 0; i < count; ++i) {
    const json& item = value[static_cast<std::size_t>(i)];
    if (!item.is_number() || !std::isfinite(item.get<double>())) throw refuse();
    out[i] = item.get<double>();
  }
  return out;
}

void require_schema(const json& root, const std::string& file) {
  if (!root.is_object())
    throw input_error(file, "is not a JSON object", "start it with { \"schema\": \"jigtrue.machine/1\", ...");
  const json& schema = field(root, file, "schema", "\"schema\": \"jigtrue.machine/1\"");
  if (schema != kSchema) {
    throw input_error(file, "schema is " + shown_value(schema) + ", not \"" + kSchema + "\"",
                      "give a machine file of this version");
  }
}

// A misspelt "beam" must not silently mean a vertical one. Remarks are free, as in a fixture file.
void refuse_unknown_fields(const json& object, const std::set<std::string>& known, const std::string& file,
                           const std::string& path) {
  for (const auto& item : object.items()) {
    const std::string& name = item.key();
    const bool free = name == "comment" || name == "note" || name.starts_with('_') || name.starts_with("x_");
    if (free || known.count(name) != 0) continue;
    std::string list;
    for (const std::string& each : known) {
      if (!list.empty()) list += ", ";
      list += each;
    }
    throw input_error(file, "unknown field " + shown_value(path + name), "a machine file knows " + list);
  }
}

Vector2d read_bed(const json& root, const std::string& file) {
  constexpr const char* kExample = "[400, 400] (width, depth)";
  Vector2d bed = numbers(field(root, file, "bed_mm", "\"bed_mm\": [400, 400]"), 2, file, "bed_mm", kExample);
  if (!(bed.minCoeff() > 0.0) || bed.maxCoeff() > kLargestBed_mm) {
    throw input_error(file, "bed_mm is " + shown_value(root["bed_mm"]) + ": both must lie above 0 and up to 20000 mm",
                      std::string("write it like ") + kExample);
  }
  return bed;
}

OriginCorner read_corner(const json& root, const std::string& file) {
  const json& value = field(root, file, "origin_corner", "\"origin_corner\": \"front-left\"");
  for (const OriginCorner corner :
       {OriginCorner::front_left, OriginCorner::front_right, OriginCorner::back_left, OriginCorner::back_right}) {
    if (value == to_string(corner)) return corner;
  }
  throw input_error(file, "origin_corner is " + shown_value(value),
                    "use \"front-left\", \"front-right\", \"back-left\" or \"back-right\"");
}

std::optional<Vector3d> read_head(const json& root, const std::string& file) {
  const auto beam = root.find("beam");
  if (beam == root.end() || *beam == "vertical") return std::nullopt;
  if (!beam->is_object() || !beam->contains("from_mm")) {
    throw input_error(file, "beam is " + shown_value(*beam),
                      "use \"vertical\", or {\"from_mm\": [x, y, z]} for a scanning head");
  }
  refuse_unknown_fields(*beam, {"from_mm"}, file, "beam.");
  const Vector3d head = numbers((*beam)["from_mm"], 3, file, "beam.from_mm", "[200, 200, 350]");
  if (!(head.z() > 0.0) || head.cwiseAbs().maxCoeff() > kFarthestHead_mm) {
    throw input_error(
        file, "beam.from_mm is " + shown_value((*beam)["from_mm"]) + ": the head must hang above the bed (z > 0)",
        "give the place that the beam pivots about, in mm from the machine's own origin");
  }
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
  const json root = parse(json_text, file_name);
  require_schema(root, file_name);
  refuse_unknown_fields(root, {"schema", "name", "bed_mm", "origin_corner", "beam"}, file_name, "");
  Machine machine;
  machine.bed_mm = read_bed(root, file_name);
  machine.origin_corner = read_corner(root, file_name);
  machine.scanning_head_mm = read_head(root, file_name);
  return machine;
}

}  // namespace jigtrue
