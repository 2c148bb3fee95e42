#include "cli/commands.hpp"
#include "cli/numbers.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/map_uncertainty.hpp"

#include <cmath>
#include <cstdio>

#include <nlohmann/json.hpp>

namespace jigtrue::cli {
namespace {

struct WhereArguments {
  std::vector<std::string> positions;
  std::string camera;
  double height_mm = 0.0;
  bool json = false;
};

constexpr const char* kWhereHelp =
    R"(Says which bed point is seen at a place of the photo, with the radius that holds the truth in 95 of 100 cases.

Photo places are pixels from the top left, the first pixel's centre being 0,0. --height is the height above the bed of what is
seen there (0: the bed itself).

Example: jigtrue where 1200,800 1500.5,820 --camera camera.json --height 12)";

int run_where(const WhereArguments& arguments, Streams streams) {
  if (!std::isfinite(arguments.height_mm) || std::abs(arguments.height_mm) > 1000.0)
    throw input_error("--height", "it must lie within 1000 mm of the bed", "give the height above the bed in mm");
  const CameraRecord record = read_camera_json(read_text_file(arguments.camera), arguments.camera);
  auto list = nlohmann::ordered_json::array();
  char line[160];
  for (const std::string& text : arguments.positions) {
    const auto px = numbers("position", text, 2, "PX,PY");
    const auto point = map_point(record, {px[0], px[1]}, arguments.height_mm);
    if (!point)
      throw input_error("position " + text, "no bed point at that height is seen there",
                        "give a place inside the calibrated picture");
    list.push_back({{"px", {px[0], px[1]}},
                    {"bed_mm", {std::round(point->bed_mm.x() * 1e4) / 1e4, std::round(point->bed_mm.y() * 1e4) / 1e4}},
                    {"u_mm", std::round(point->radius_95_mm * 1e4) / 1e4}});
    std::snprintf(line, sizeof line, "(%g, %g) px  ->  X %.3f mm, Y %.3f mm, within %.3f mm (95 %%)\n", px[0], px[1],
                  point->bed_mm.x(), point->bed_mm.y(), point->radius_95_mm);
    if (!arguments.json) streams.out << line;
  }
  if (arguments.json) streams.out << list.dump() << "\n";
  return 0;
}

}  // namespace

void add_where_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<WhereArguments>();
  CLI::App* command = program.add_subcommand("where", "The bed point seen at a place of the photo");
  command->description(kWhereHelp);
  command->add_option("positions", arguments->positions, "PX,PY ...: places in the photo, px")->required();
  command->add_option("--camera", arguments->camera, "camera.json from jigtrue pose")->required();
  command->add_option("--height", arguments->height_mm, "Height above the bed of what is seen there, mm");
  command->add_flag("--json", arguments->json, "Print JSON");
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_where(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
