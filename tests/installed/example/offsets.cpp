// Prints how far each slot's design must move: offsets PHOTO CAMERA.json FIXTURE.json
#include <exception>
#include <iomanip>
#include <iostream>
#include <jigtrue/workbench/workbench.hpp>

int main(int count, char** arguments) {
  if (count != 4) {
    std::cerr << "offsets PHOTO CAMERA.json FIXTURE.json\n";
    return 2;
  }
  try {
    const std::string photo = arguments[1];
    jigtrue::Workbench bench({jigtrue::read_camera_json(jigtrue::read_text_file(arguments[2]), arguments[2]),
                              jigtrue::read_fixture(jigtrue::read_text_file(arguments[3]), arguments[3])});
    const jigtrue::FileBytes bytes = jigtrue::read_file_bytes(photo, std::size_t{1} << 30);
    const jigtrue::CheckedLoad load = bench.check(jigtrue::EncodedPhoto{photo, bytes.span()}, "2024-05-01T12:00:00Z");
    std::cout << std::fixed << std::setprecision(4);
    for (const jigtrue::SlotResult& slot : load.result.slots) {
      std::cout << slot.id << ' ' << jigtrue::to_string(slot.state);
      if (slot.numbers) std::cout << ' ' << slot.numbers->offset_mm.x() << ' ' << slot.numbers->offset_mm.y();
      std::cout << '\n';
    }
    return load.result.needs_person() ? 1 : 0;
  } catch (const std::exception& error) {
    std::cerr << error.what() << '\n';
    return 2;
  }
}
