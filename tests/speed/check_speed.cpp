// How long a check takes, whole process and stages, beside what it takes libjpeg-turbo to decode the same photo to
// grey:
//   jigtrue_check_speed [ROUNDS]
// Photos of 12 megapixels with 5, 20 and 60 blanks, drawn here: plain ones of maple rods on slate, and hard ones of
// black rods on noisy plywood, where no reading is certain and all are measured. Of several rounds the least is told:
// the others were disturbed.
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/measurement/check_photo.hpp"
#include "jigtrue/measurement/prepare_photo.hpp"
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <jpeglib.h>
#include <string>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>
#include <vector>

#include "drawn/drawn_bed.hpp"
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

constexpr int kWidth_px = 4000;
constexpr int kHeight_px = 3000;

struct Grid {
  int columns;
  int rows;
};

struct Look {
  const char* name;
  test::Skin jig;
  test::Skin rod;
  double noise;
};

// The sample calibration's camera, its pixels made so much smaller.
nlohmann::json camera_of_twelve_megapixels() {
  auto camera = nlohmann::json::parse(read_text_file(JIGTRUE_SOURCE_DIR "/calib/sample/camera.json"));
  const double finer = kWidth_px / camera["image_size_px"][0].get<double>();
  camera["image_size_px"] = camera["lens"]["image_size_px"] = {kWidth_px, kHeight_px};
  for (const char* focal : {"fx", "fy"})
    camera["lens"]["parameters"][focal] = finer * camera["lens"]["parameters"][focal].get<double>();
  for (const char* centre : {"cx", "cy"})
    camera["lens"]["parameters"][centre] = (camera["lens"]["parameters"][centre].get<double>() + 0.5) * finer - 0.5;
  camera.erase("witness");
  camera.erase("inputs");
  return camera;
}

test::DrawnBed bed_with(const Grid& grid, const Look& look, const Camera& camera) {
  test::DrawnBed bed;
  bed.camera = camera;
  bed.jig = look.jig;
  bed.noise = look.noise;
  const Vector2d middle_mm = bed_point_at(camera, {0.5 * kWidth_px, 0.5 * kHeight_px}, 5.0).value().mm;
  for (int c = 0; c < grid.columns; ++c) {
    for (int r = 0; r < grid.rows; ++r) {
      test::DrawnSlot slot;
      slot.seat_centre_mm =
          middle_mm + Vector2d(122.0 * (c - 0.5 * (grid.columns - 1)), 22.0 * (r - 0.5 * (grid.rows - 1)));
      slot.seat.kind = VeeSeat{4.0, 90.0};
      slot.seat.top_mm = 9.0;
      slot.declared = RoundBlank{9.0, 110.0};
      slot.end_room_mm = 4.0;
      slot.blank = slot.declared;
      slot.centre_mm = slot.seat_centre_mm + Vector2d(0.3, 0.0);
      slot.skin = look.rod;
      bed.slots.push_back(slot);
    }
  }
  return bed;
}

std::string fixture_json(const test::DrawnBed& bed) {
  nlohmann::json slots = nlohmann::json::array();
  for (const test::DrawnSlot& slot : bed.slots)
    slots.push_back({{"id", std::to_string(slots.size() + 1)},
                     {"centre_mm", {slot.seat_centre_mm.x(), slot.seat_centre_mm.y()}},
                     {"axis_deg", 0}});
  return nlohmann::json{{"schema", "jigtrue.fixture/1"},
                        {"name", "benchmark"},
                        {"blank", {{"kind", "round"}, {"diameter_mm", 9.0}, {"length_mm", 110.0}}},
                        {"seat", {{"vee_bottom_mm", 4.0}, {"vee_angle_deg", 90}, {"top_mm", 9.0}}},
                        {"design", {{"width_mm", 60}, {"height_mm", 4}}},
                        {"slots", slots}}
      .dump();
}

using Clock = std::chrono::steady_clock;
double ms_since(Clock::time_point start) {
  return std::chrono::duration<double, std::milli>(Clock::now() - start).count();
}

void decode_to_grey(const std::string& jpeg) {
  jpeg_decompress_struct info{};
  jpeg_error_mgr errors{};
  info.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&info);
  jpeg_mem_src(&info, reinterpret_cast<const unsigned char*>(jpeg.data()), jpeg.size());
  jpeg_read_header(&info, TRUE);
  info.out_color_space = JCS_GRAYSCALE;
  jpeg_start_decompress(&info);
  std::vector<unsigned char> picture(static_cast<std::size_t>(info.output_width) * info.output_height);
  while (info.output_scanline < info.output_height) {
    JSAMPROW row = picture.data() + static_cast<std::size_t>(info.output_scanline) * info.output_width;
    jpeg_read_scanlines(&info, &row, 1);
  }
  jpeg_finish_decompress(&info);
  jpeg_destroy_decompress(&info);
}

struct Ran {
  double wall_ms = 0.0;
  double processor_ms = 0.0;
  double memory_mb = 0.0;
  bool found_all = false;
};

// The most that a process has held since it runs its program: what it says last counts, and wait4 would count the
// forking process's own memory, too.
double most_memory_mb(pid_t process) {
  std::ifstream status("/proc/" + std::to_string(process) + "/status");
  for (std::string line; std::getline(status, line);)
    if (line.rfind("VmHWM:", 0) == 0) return std::atof(line.c_str() + 6) / 1024.0;
  return 0.0;
}

Ran run(const std::vector<std::string>& words) {
  std::vector<char*> arguments;
  arguments.reserve(words.size() + 1);
  for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  const Clock::time_point start = Clock::now();
  std::fflush(stdout);
  const pid_t child = fork();
  if (child == 0) {
    if (std::freopen("/dev/null", "w", stdout) != nullptr) execv(arguments.front(), arguments.data());
    _exit(127);
  }
  int status = 0;
  rusage used{};
  double memory_mb = 0.0;
  while (wait4(child, &status, WNOHANG, &used) == 0) {
    if (const double now_mb = most_memory_mb(child); now_mb > 0.0) memory_mb = now_mb;
    usleep(2000);
  }
  const auto ms = [](const timeval& t) {
    return 1e3 * static_cast<double>(t.tv_sec) + 1e-3 * static_cast<double>(t.tv_usec);
  };
  return {ms_since(start), ms(used.ru_utime) + ms(used.ru_stime), memory_mb,
          WIFEXITED(status) && WEXITSTATUS(status) == 0};
}

template <class Work>
double least_ms(int rounds, Work&& work) {
  double least = 1e300;
  for (int i = 0; i < rounds; ++i) {
    const Clock::time_point start = Clock::now();
    work();
    least = std::min(least, ms_since(start));
  }
  return least;
}

void bench(const Grid& grid, const Look& look, int rounds) {
  const test::TemporaryFolder folder;
  const std::string camera_text = camera_of_twelve_megapixels().dump();
  const test::DrawnBed bed = bed_with(grid, look, read_camera_json(camera_text, "camera.json").camera);
  const std::string jpeg = encode_jpeg(test::draw(bed, 7), 94);
  const auto write = [&](const std::string& name, const std::string& text) {
    std::ofstream(folder / name, std::ios::binary) << text;
    return (folder / name).string();
  };
  const std::string photo_file = write("photo.jpg", jpeg);
  const std::string camera_file = write("camera.json", camera_text);
  const std::string fixture_file = write("fixture.json", fixture_json(bed));
  const double decode_ms = least_ms(rounds, [&] { decode_to_grey(jpeg); });
  Ran whole{1e300, 1e300, 0.0, true};
  for (int i = 0; i < rounds; ++i) {
    const Ran once = run({JIGTRUE_PROGRAM, "check", photo_file, "--camera", camera_file, "--fixture", fixture_file,
                          "-o", (folder / "out").string()});
    whole.wall_ms = std::min(whole.wall_ms, once.wall_ms);
    whole.processor_ms = std::min(whole.processor_ms, once.processor_ms);
    whole.memory_mb = std::max(whole.memory_mb, once.memory_mb);
    whole.found_all = whole.found_all && once.found_all;
  }
  const Fixture fixture = read_fixture(read_text_file(fixture_file), fixture_file);
  Photo photo;
  const double read_ms = least_ms(rounds, [&] { photo = read_photo(photo_file); });
  const double prepare_ms = least_ms(rounds, [&] {
    EdgeModelStore models;
    (void)prepare_photo(photo, bed.camera, fixture, {}, {}, 2, models);
  });
  const double check_ms = least_ms(rounds, [&] { (void)check_photo(photo, bed.camera, fixture, {}); });
  const double grey_mb = static_cast<double>(kWidth_px) * kHeight_px / 1048576.0;
  std::printf("%-5s %5zu %9.0f %9.0f %9.0f %7.2f %8.0f %9.0f %9.0f %9.0f %8.1f %6.2f%s\n", look.name, bed.slots.size(),
              decode_ms, whole.wall_ms, whole.processor_ms, (whole.wall_ms - 30.0) / decode_ms, read_ms, prepare_ms,
              check_ms - prepare_ms, whole.wall_ms - read_ms - check_ms, whole.memory_mb, whole.memory_mb / grey_mb,
              whole.found_all ? "" : "  not every slot was ready");
}

}  // namespace
}  // namespace jigtrue

int main(int count, char** arguments) {
  const int rounds = count > 1 ? std::max(1, std::atoi(arguments[1])) : 5;
  std::printf(
      "photo slots decode_ms  whole_ms    cpu_ms  (w-30)/d  read_ms  prepare_ms measure_ms  rest_ms  mem_mb  "
      "mem/grey\n");
  // the hard one's noise is such that the photo takes the 3 to 5 megabytes that phones make of one (common practice, no
  // source)
  const jigtrue::Look plain{"plain", {{0.07, 0.08, 0.09}, 0.1, 0.0}, {{0.62, 0.48, 0.33}, 0.1, 0.0}, 0.005};
  const jigtrue::Look hard{"hard", {{0.30, 0.24, 0.16}, 0.15, 0.0}, {{0.06, 0.05, 0.05}, 0.05, 0.1}, 0.02};
  for (const jigtrue::Look& look : {plain, hard})
    for (const jigtrue::Grid grid : {jigtrue::Grid{1, 5}, jigtrue::Grid{2, 10}, jigtrue::Grid{3, 20}})
      jigtrue::bench(grid, look, rounds);
}
