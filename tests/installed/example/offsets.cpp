// Prints how far each slot's design must move: offsets PHOTO CAMERA.json FIXTURE.json
#include <exception>
#include <iomanip>
#include <iostream>
#include <jigtrue/base/read_file.hpp>
#include <jigtrue/calibration/camera_file.hpp>
#include <jigtrue/fixture/fixture.hpp>
#include <jigtrue/image/read_photo.hpp>
#include <jigtrue/measurement/check_photo.hpp>

int main(int count, char** arguments) {
  if (count != 4) {
    std::cerr << "offsets PHOTO CAMERA.json FIXTURE.json\n";
    return 2;
  }
  try {
    const jigtrue::Photo photo = jigtrue::read_photo(arguments[1]);
    const jigtrue::CameraRecord camera = jigtrue::read_camera_json(jigtrue::read_text_file(arguments[2]), arguments[2]);
    const jigtrue::Fixture fixture = jigtrue::read_fixture(jigtrue::read_text_file(arguments[3]), arguments[3]);
    const jigtrue::CheckResult result = jigtrue::check_photo(photo, camera.camera, fixture, {});
    std::cout << std::fixed << std::setprecision(4);
    for (const jigtrue::SlotResult& slot : result.slots) {
      std::cout << slot.id << ' ' << jigtrue::to_string(slot.state);
      if (slot.numbers) std::cout << ' ' << slot.numbers->offset_mm.x() << ' ' << slot.numbers->offset_mm.y();
      std::cout << '\n';
    }
    return result.needs_person() ? 1 : 0;
  } catch (const std::exception& error) {
    std::cerr << error.what() << '\n';
    return 2;
  }
}
