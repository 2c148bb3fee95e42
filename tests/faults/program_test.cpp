// The program itself, as a process, where disk, memory or another program fail it.
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <atomic>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <string>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

namespace fs = std::filesystem;

const fs::path project = JIGTRUE_SOURCE_DIR;
const fs::path camera = project / "calib/sample/camera.json";
const fs::path demo_photo = project / "fixtures/demo/pens/photo.jpg";
const fs::path demo_fixture = project / "fixtures/demo/pens/fixture.json";

struct Ran {
  int status = -1;  // 128 + signal when it was killed by one
  std::string err;
};

// A line of shell, in which $JIGTRUE is the program.
Ran shell(const std::string& line, const fs::path& work) {
  const fs::path err = work / "stderr.txt";
  ::setenv("JIGTRUE", JIGTRUE_PROGRAM, 1);
  const std::string whole = "{ " + line + "\n} >'" + (work / "stdout.txt").string() + "' 2>'" + err.string() + "'";
  const int status = std::system(whole.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status), read_text_file(err)};
}

std::string quoted(const fs::path& path) { return "'" + path.string() + "'"; }

std::string check_line(const fs::path& photo, const fs::path& out) {
  return "\"$JIGTRUE\" check " + quoted(photo) + " --camera " + quoted(camera) + " --fixture " + quoted(demo_fixture) +
         " -o " + quoted(out);
}
// Writes a set of files in some milliseconds.
std::string burn_line(const std::string& grid, const fs::path& out) {
  return "\"$JIGTRUE\" target --grid " + grid + " --area 20,20,380,280 --bed 400x300 -o " + quoted(out);
}

void expect_refusal(const Ran& run, const std::string& says) {
  EXPECT_EQ(run.status, 2) << run.err;
  EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
  EXPECT_NE(run.err.find(says), std::string::npos) << "\"" << says << "\" is not in: " << run.err;
}

bool root_with_mounts() {
  static const bool can =
      ::geteuid() == 0 && std::system("unshare -m sh -c 'mount -t tmpfs -o size=64k none /mnt' >/dev/null 2>&1") == 0;
  return can;
}

// A disk of its own of so many kilobytes, with an older result on it; 200 kB of drawings and text are to be written.
TEST(FullDisk, LeavesTheOldResultAndSaysSo) {
  if (!root_with_mounts()) GTEST_SKIP() << "needs root and the right to mount a small disk";
  const TemporaryFolder work;
  fs::create_directory(work / "disk");
  const fs::path out = work / "disk/out";
  for (const int kilobytes : {12, 40, 120, 250}) {
    SCOPED_TRACE(std::to_string(kilobytes) + " kB");
    const Ran run =
        shell("unshare -m sh -c \"mount -t tmpfs -o size=" + std::to_string(kilobytes) + "k none " +
                  quoted(work / "disk") + " && mkdir " + quoted(out) + " && echo old >" + quoted(out / "layout.svg") +
                  " && " + check_line(demo_photo, out).replace(0, 10, JIGTRUE_PROGRAM) + "; s=\\$?; ls -A " +
                  quoted(out) + " >" + quoted(work / "left") + "; cat " + quoted(out / "layout.svg") + " >>" +
                  quoted(work / "left") + "; exit \\$s\"",
              work.path());
    expect_refusal(run, "the disk is full; make room");
    EXPECT_EQ(read_text_file(work / "left"), "layout.svg\nold\n");
  }
}

TEST(ReadOnly, DiskIsNamed) {
  if (!root_with_mounts()) GTEST_SKIP() << "needs root and the right to mount a small disk";
  const TemporaryFolder work;
  fs::create_directory(work / "disk");
  const Ran run = shell("unshare -m sh -c \"mount -t tmpfs none " + quoted(work / "disk") + " && mount -o remount,ro " +
                            quoted(work / "disk") + " && " +
                            burn_line("3x2", work / "disk/burn.svg").replace(0, 10, JIGTRUE_PROGRAM) + "\"",
                        work.path());
  expect_refusal(run, "the disk is read-only; choose another place");
}

TEST(ReadOnly, FolderIsNamed) {
  const TemporaryFolder work;
  fs::create_directory(work / "out");
  const bool root = ::geteuid() == 0;
  // root may write everywhere: then the program runs as nobody
  if (root && std::system("setpriv --reuid 65534 true >/dev/null 2>&1") != 0)
    GTEST_SKIP() << "needs setpriv to stop being root";
  const std::string as_nobody = root ? "setpriv --reuid 65534 --regid 65534 --clear-groups " : "";
  fs::permissions(work.path(), fs::perms::all);
  fs::permissions(work / "out",
                  fs::perms::owner_read | fs::perms::owner_exec | fs::perms::others_read | fs::perms::others_exec);
  const Ran run = shell(as_nobody + burn_line("3x2", work / "out/burn.svg"), work.path());
  if (run.status == 126 || run.status == 127) GTEST_SKIP() << "the program may not be run by nobody here";
  expect_refusal(run, "permission denied; allow it for this user or choose another place");
  EXPECT_TRUE(fs::is_empty(work / "out"));
}

TEST(FullDisk, AnAnswerThatCannotBePrintedIsNoSuccess) {
  if (!fs::exists("/dev/full")) GTEST_SKIP() << "there is no /dev/full here";
  const TemporaryFolder work;
  const std::string where = "\"$JIGTRUE\" where 820,590 --camera " + quoted(camera);
  EXPECT_EQ(shell(where, work.path()).status, 0);
  expect_refusal(shell(where + " >/dev/full", work.path()), "could not be printed");
  expect_refusal(shell(where + " >&-", work.path()), "could not be printed");
}

TEST(FullDisk, ADeviceIsNoResultFile) {
  const TemporaryFolder work;
  expect_refusal(
      shell(burn_line("3x2", "/dev/full").replace(burn_line("3x2", "/dev/full").find("'/dev/full'"), 11, "/dev/full"),
            work.path()),
      "/dev/full");
}

// Two checks into one folder at once: in the end every file is of one of them.
TEST(TwoAtOnce, OneOfThemHasTheFolder) {
  const TemporaryFolder work;
  const fs::path out = work / "out/burn.svg";
  std::map<std::string, std::string> marks_of;  // drawing -> its places
  for (const char* grid : {"3x2", "6x4"}) {
    ASSERT_EQ(shell(burn_line(grid, out), work.path()).status, 0);
    marks_of[read_text_file(out)] = read_text_file(work / "out/marks.json");
  }
  ASSERT_EQ(marks_of.size(), 2u);
  for (int round = 0; round < 12; ++round) {
    fs::remove_all(work / "out");
    const Ran both =
        shell(burn_line("3x2", out) + " & a=$!; " + burn_line("6x4", out) + " & b=$!; wait $a && wait $b", work.path());
    ASSERT_EQ(both.status, 0) << both.err;
    const auto drawing = marks_of.find(read_text_file(out));
    ASSERT_NE(drawing, marks_of.end());
    EXPECT_EQ(read_text_file(work / "out/marks.json"), drawing->second) << "the two files are of different runs";
    EXPECT_EQ(std::distance(fs::directory_iterator(work / "out"), fs::directory_iterator()), 2);
  }
}

// A photo that is copied in, cut short and copied again while it is read: a whole photo or one clear line.
TEST(ChangingPhoto, IsReadWholeOrRefused) {
  const TemporaryFolder work;
  const fs::path photo = work / "photo.jpg";
  const std::string whole = read_text_file(demo_photo);
  std::ofstream(photo, std::ios::binary) << whole;
  std::atomic<bool> stop = false;
  std::thread changes([&] {
    for (std::size_t n = 0; !stop; ++n) {
      std::ofstream again(photo, std::ios::binary);  // empty for a moment
      again.write(whole.data(), static_cast<std::streamsize>(whole.size() * (n % 3 + 1) / 3));
      again.close();
      std::this_thread::sleep_for(std::chrono::microseconds(300));
    }
  });
  int read = 0;
  int refused = 0;
  for (int i = 0; i < 400 && (read == 0 || refused == 0 || i < 40); ++i) {
    try {
      const Photo one = read_photo(photo, PhotoColour::luma_only);
      EXPECT_EQ(one.width_px(), 1600);
      ++read;
    } catch (const InputError& error) {
      EXPECT_EQ(std::string(error.what()).find('\n'), std::string::npos);
      ++refused;
    }
  }
  stop = true;
  changes.join();
  EXPECT_GT(read + refused, 39);
  EXPECT_GT(refused, 0);
}

std::string big_endian(std::uint32_t value) {
  std::string bytes;
  for (int shift = 24; shift >= 0; shift -= 8) bytes.push_back(static_cast<char>(value >> shift & 0xFF));
  return bytes;
}
std::string short_big_endian(unsigned value) { return big_endian(value).substr(2); }

// Only the head of a picture of this size.
std::string png_chunk(const std::string& type_and_data) {
  std::uint32_t crc = 0xFFFFFFFF;  // PNG 1.2, annex D
  for (const char c : type_and_data) {
    crc ^= static_cast<unsigned char>(c);
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1) != 0 ? 0xEDB88320 ^ (crc >> 1) : crc >> 1;
  }
  return big_endian(static_cast<std::uint32_t>(type_and_data.size() - 4)) + type_and_data + big_endian(~crc);
}
std::string png_head(std::uint32_t width, std::uint32_t height) {
  return "\x89PNG\r\n\x1a\n" +
         png_chunk("IHDR" + big_endian(width) + big_endian(height) + std::string("\x08\x02\x00\x00\x00", 5)) +
         png_chunk("IDAT" + std::string(4000, 'x'));
}
std::string jpeg_head(unsigned width, unsigned height) {
  return std::string("\xFF\xD8\xFF\xC0\x00\x11\x08", 7) + short_big_endian(height) + short_big_endian(width) +
         std::string("\x03\x01\x22\x00\x02\x11\x01\x03\x11\x01", 10) +
         std::string("\xFF\xDA\x00\x0C\x03\x01\x00\x02\x11\x03\x11\x00\x3F\x00", 14) + std::string(4000, 'x');
}
std::string tiff_head(unsigned width, unsigned height) {
  const auto entry = [](unsigned tag, unsigned value) {
    return short_big_endian(tag) + short_big_endian(4) + big_endian(1) + big_endian(value);
  };
  return std::string("MM\x00\x2A", 4) + big_endian(8) + short_big_endian(7) + entry(256, width) + entry(257, height) +
         entry(258, 8) + entry(259, 1) + entry(262, 1) + entry(273, 100) + entry(279, 4000) + big_endian(0) +
         std::string(4000, 'x');
}

class LittleMemory : public testing::Test {
 protected:
  void SetUp() override {
    if (JIGTRUE_SANITIZED) GTEST_SKIP() << "a sanitizer's own memory does not fit in";
    // the program as users run it, whatever the run of the tests was told
    ::unsetenv("MALLOC_TRIM_THRESHOLD_");
    ::unsetenv("MALLOC_MMAP_THRESHOLD_");
  }
};

// 3600 megapixels in 200 MB of memory.
TEST_F(LittleMemory, AHugeHeaderIsRefusedBeforeMemoryIsAskedFor) {
  const TemporaryFolder work;
  for (const auto& [name, bytes] : {std::pair<std::string, std::string>("huge.png", png_head(60'000, 60'000)),
                                    {"huge.jpg", jpeg_head(60'000, 60'000)},
                                    {"huge.tif", tiff_head(60'000, 60'000)}}) {
    SCOPED_TRACE(name);
    std::ofstream(work / name, std::ios::binary) << bytes;
    const Ran run = shell("ulimit -v 200000; " + check_line(work / name, work / "out"), work.path());
    expect_refusal(run, "60000 x 60000 px is more than the 200 megapixels allowed; use a smaller photo");
    EXPECT_FALSE(fs::exists(work / "out/report.json"));
  }
}

// What does not fit into memory is said, at whatever call it shows.
TEST_F(LittleMemory, IsSaid) {
  const TemporaryFolder work;
  std::ofstream(work / "large.png", std::ios::binary) << png_head(14'000, 14'000);
  const Ran large = shell("ulimit -v 200000; " + check_line(work / "large.png", work / "out"), work.path());
  EXPECT_EQ(large.status, 2);
  EXPECT_EQ(std::count(large.err.begin(), large.err.end(), '\n'), 1) << large.err;
  int told = 0;
  // Where no thread's own heap (64 MB at a time) finds room any more, glibc asks the kernel anew for every piece, which
  // makes seconds of a run that gets far: those runs share one heap.
  for (const auto& [kilobytes, heaps] : std::map<int, std::string>{{45'000, ""},
                                                                   {50'000, ""},
                                                                   {55'000, ""},
                                                                   {60'000, "MALLOC_ARENA_MAX=1 "},
                                                                   {65'000, "MALLOC_ARENA_MAX=1 "},
                                                                   {70'000, "MALLOC_ARENA_MAX=1 "},
                                                                   {85'000, "MALLOC_ARENA_MAX=1 "},
                                                                   {110'000, "MALLOC_ARENA_MAX=1 "}}) {
    SCOPED_TRACE(std::to_string(kilobytes) + " kB");
    const Ran run = shell(
        "ulimit -v " + std::to_string(kilobytes) + "; " + heaps + check_line(demo_photo, work / "out"), work.path());
    if (run.status == 127) continue;  // the program itself could not be loaded
    ASSERT_TRUE(run.status == 1 || run.status == 2) << run.status << " " << run.err;
    if (run.status == 1) continue;  // enough after all: one slot is empty
    ++told;
    EXPECT_TRUE(run.err.find("not enough memory") != std::string::npos ||
                run.err.find("does not fit into memory") != std::string::npos)  // the photo itself
        << run.err;
    EXPECT_EQ(std::count(run.err.begin(), run.err.end(), '\n'), 1) << run.err;
  }
  RecordProperty("limits_told", told);
}

TEST(Links, LeadToWhatTheyName) {
  const TemporaryFolder work;
  fs::create_directory(work / "real");
  fs::create_symlink("real", work / "out");
  std::ofstream(work / "kept.svg") << "old";
  fs::create_symlink("../kept.svg", work / "real/burn.svg");
  ASSERT_EQ(shell(burn_line("3x2", work / "out/burn.svg"), work.path()).status, 0);
  EXPECT_TRUE(fs::is_symlink(work / "out"));
  EXPECT_TRUE(fs::is_symlink(work / "real/burn.svg"));
  EXPECT_NE(read_text_file(work / "kept.svg").find("<svg"), std::string::npos);
  EXPECT_TRUE(fs::exists(work / "real/marks.json"));
}

TEST(Links, InACircleAreRefused) {
  const TemporaryFolder work;
  fs::create_symlink("b", work / "a");
  fs::create_symlink("a", work / "b");
  expect_refusal(shell(burn_line("3x2", work / "a/burn.svg"), work.path()), (work / "a").string());
  expect_refusal(shell(burn_line("3x2", work / "a"), work.path()), "-o");
  expect_refusal(shell(check_line(work / "a", work / "out"), work.path()), "symbolic links lead in a circle");
  fs::create_symlink("missing/folder", work / "dangling");
  expect_refusal(shell(check_line(work / "dangling", work / "out"), work.path()), "no such file or folder");
}

TEST(Links, PhotosAndFixturesMayBeLinks) {
  const TemporaryFolder work;
  fs::create_symlink(demo_photo, work / "today.jpg");
  EXPECT_EQ(shell(check_line(work / "today.jpg", work / "out"), work.path()).status, 1);  // one slot is empty
  EXPECT_TRUE(fs::exists(work / "out/report.json"));
}

}  // namespace
}  // namespace jigtrue::test
