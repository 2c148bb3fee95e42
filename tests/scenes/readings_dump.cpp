// Every reading of every slot of traced pictures, with what really lay there, a slot a line of JSON: what weigh.py fits
// the weights of plausibility.hpp to. Arguments: pairs of a scene's folder and a camera.json.
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/detection/plausibility.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/measurement/prepare_photo.hpp"

#include <cmath>
#include <fstream>
#include <iostream>
#include <sstream>

#include <nlohmann/json.hpp>

namespace {

using namespace jigtrue;
using nlohmann::json;

std::string text_of(const std::string& file) {
  const std::ifstream in(file);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

// Along and across the reading's axis, mm; nothing where no blank lies.
json off_truth(const Reading& reading, const Slot& slot, const json& truth) {
  if (!truth.contains("centre_mm") || truth["centre_mm"].is_null()) return nullptr;
  const double heading = reading.fit.place.heading_rad;
  const Vector2d along(std::cos(heading), std::sin(heading));
  const Vector2d design = reading.fit.place.centre_mm + (slot.design ? slot.design->along_mm : 0.0) * along;
  const Vector2d off = design - Vector2d(truth["centre_mm"][0], truth["centre_mm"][1]);
  return {off.dot(along), off.dot(Vector2d(-along.y(), along.x()))};
}

json described(const Readings& readings, const Slot& slot, const json& truth) {
  json list = json::array();
  for (const auto* kind : {&readings.declared, &readings.other_sizes}) {
    for (const Reading& reading : *kind) {
      list.push_back({{"declared", reading.declared_size},
                      {"traits", traits_of(reading, slot.blank, readings.ends_support)},
                      {"girth_mm", reading.fit.girth_free_mm},
                      {"length_mm", reading.fit.place.length_mm},
                      {"off_mm", off_truth(reading, slot, truth)}});
    }
  }
  return list;
}

void dump(const std::string& scene, const std::string& camera_file) {
  const Camera camera = read_camera_json(text_of(camera_file), camera_file).camera;
  const Fixture fixture = read_fixture(text_of(scene + "/fixture.json"), "fixture.json");
  const Photo photo = read_photo(scene + "/photo.jpg");
  const json truth = json::parse(text_of(scene + "/truth.json"));
  EdgeModelStore models;
  const PreparedPhoto prepared = prepare_photo(photo, camera, fixture, std::nullopt, SearchRange{}, 1, models);
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    const Slot& slot = fixture.slots[i];
    const Readings readings =
        read_slot(photo, camera, slot.blank, slot.seat, prepared.tasks[i].coarse, prepared.blur, models, HowMany::all);
    std::cout << json{{"scene", scene},
                      {"slot", slot.id},
                      {"flat", is_flat(slot.blank.shape)},
                      {"state", truth["slots"][i]["state"]},
                      {"ends", readings.ends_support},
                      {"support", readings.support},
                      {"chance", readings.chance},
                      {"readings", described(readings, slot, truth["slots"][i])}}
                     .dump()
              << "\n";
  }
}

}  // namespace

int main(int argc, char** argv) {
  try {
    for (int i = 1; i + 1 < argc; i += 2) dump(argv[i], argv[i + 1]);
  } catch (const std::exception& error) {
    std::cerr << error.what() << "\n";
    return 2;
  }
  return 0;
}
