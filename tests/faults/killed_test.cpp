// Killed while it writes, at every call that changes the disk: this program's own calls stand before the system's and
// kill the process on demand. What must hold wherever it dies: each file is whole, the set's first file is there (if it
// ever was), and no old file stands beside a new one.
#include "cli/run.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/report/check_outputs.hpp"
#include "jigtrue/report/report_json.hpp"
#include "support/patterns.hpp"
#include "support/sample_result.hpp"
#include "support/temporary_folder.hpp"

#include <csignal>
#include <cstdarg>
#include <fcntl.h>
#include <fstream>
#include <functional>
#include <map>
#include <sstream>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <gtest/gtest.h>

namespace {

// Counts down to the call before which the process dies. 0: never.
int calls_left = 0;
int calls = 0;

void before_a_change() {
  ++calls;
  if (calls_left > 0 && --calls_left == 0) ::raise(SIGKILL);
}

}  // namespace

extern "C" ssize_t write(int descriptor, const void* from, size_t count) {
  // Half of a large write may be on the disk before the kill.
  if (calls_left == 1 && count > 1) ::syscall(SYS_write, descriptor, from, count / 2);
  before_a_change();
  return ::syscall(SYS_write, descriptor, from, count);
}
extern "C" int fsync(int descriptor) {
  before_a_change();
  return static_cast<int>(::syscall(SYS_fsync, descriptor));
}
extern "C" int rename(const char* from, const char* to) noexcept {
  before_a_change();
  return ::renameat(AT_FDCWD, from, AT_FDCWD, to);
}
extern "C" int link(const char* from, const char* to) noexcept {
  before_a_change();
  return ::linkat(AT_FDCWD, from, AT_FDCWD, to, 0);
}
extern "C" int unlink(const char* path) noexcept {
  before_a_change();
  return ::unlinkat(AT_FDCWD, path, 0);
}
extern "C" int mkdir(const char* path, mode_t mode) noexcept {
  before_a_change();
  return ::mkdirat(AT_FDCWD, path, mode);
}
extern "C" int fchmod(int descriptor, mode_t mode) noexcept {
  before_a_change();
  return static_cast<int>(::syscall(SYS_fchmod, descriptor, mode));
}

namespace jigtrue::test {
namespace {

namespace fs = std::filesystem;
using Files = std::map<std::string, std::string>;

// Visible files by name, without the time at which they were made.
Files files_in(const fs::path& folder) {
  const std::string time = R"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ)";
  Files files;
  if (!fs::exists(folder)) return files;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    const std::string name = entry.path().filename().string();
    if (name[0] != '.') files[name] = test::with_replaced(read_text_file(entry.path()), time, "(time)");
  }
  return files;
}

void put(const fs::path& folder, const Files& files) {
  fs::remove_all(folder);
  if (files.empty()) return;
  fs::create_directories(folder);
  for (const auto& [name, text] : files) std::ofstream(folder / name, std::ios::binary) << text;
}

// The number of changes that `work` makes.
int count_changes(const std::function<void()>& work) {
  calls = 0;
  work();
  return calls;
}

// Does `work` in a process of its own that dies before its n-th change. True if it died so.
bool killed_before(int n, const std::function<void()>& work) {
  const pid_t child = ::fork();
  if (child == 0) {
    calls_left = n;
    work();
    calls_left = 0;
    ::_exit(0);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL;
}

// `work` writes its set into `folder`; `first` is the file that must never be missing once it was there.
void expect_never_half(const fs::path& folder, const std::string& first, const std::function<void()>& work) {
  put(folder, {});
  work();
  const Files fresh = files_in(folder);
  ASSERT_GE(fresh.size(), 2u);
  Files old;
  for (const auto& [name, text] : fresh) old[name] = "old " + name;
  for (const Files& before : {Files{}, old}) {
    put(folder, before);
    const int changes = count_changes(work);
    EXPECT_GT(changes, 3 * static_cast<int>(fresh.size()));
    for (int n = 1; n <= changes; ++n) {
      SCOPED_TRACE("killed before change " + std::to_string(n) + " of " + std::to_string(changes) +
                   (before.empty() ? ", new folder" : ", over an older set"));
      put(folder, before);
      ASSERT_TRUE(killed_before(n, work));
      const Files after = files_in(folder);
      std::size_t from_before = 0;
      for (const auto& [name, text] : after) {
        const bool is_old = before.count(name) != 0 && text == before.at(name);
        from_before += is_old;
        EXPECT_TRUE(is_old || text == fresh.at(name)) << name << " is neither the old file nor the new one";
      }
      EXPECT_TRUE(from_before == 0 || from_before == after.size()) << "old files beside new ones";
      EXPECT_TRUE(before.empty() || after.count(first) != 0) << first << " is gone";
      // and the next run mends it
      work();
      EXPECT_EQ(files_in(folder), fresh);
    }
  }
}

TEST(KilledWhileWriting, ACheckLeavesNoHalfResult) {
  const TemporaryFolder folder;
  CheckResult result = sample_result();
  Photo photo;
  photo.file = result.photo_file;
  photo.luma = cv::Mat1b(result.height_px, result.width_px, static_cast<unsigned char>(90));
  const ReportOptions options{"2024-05-01T12:00:00Z", "0.1.0", std::nullopt};
  // drawn once: what is tested is how it gets onto the disk
  const std::vector<FileContent> files = check_outputs(folder / "out", result, photo, options);
  expect_never_half(folder / "out", "report.json", [&] {
    prepare_folder(folder / "out");
    write_files(files);
  });
}

TEST(KilledWhileWriting, APlacedLayoutIsNeverHalf) {
  const TemporaryFolder folder;
  std::ofstream(folder / "report.json") << report_json(sample_result(),
                                                       {"2024-05-01T12:00:00Z", "0.1.0", std::nullopt});
  std::ofstream(folder / "art.svg") << R"(<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="10mm"
    viewBox="0 0 60 10"><rect x="5" y="3" width="50" height="4"/></svg>)";
  expect_never_half(folder / "out", "layout.svg", [&] {
    std::ostringstream out;
    std::ostringstream err;
    const int status = cli::run({"place", (folder / "report.json").string(), "--design", (folder / "art.svg").string(),
                                 "-o", (folder / "out").string()},
                                out, err);
    if (status > 1) throw std::runtime_error(err.str());
  });
}

TEST(KilledWhileWriting, MarksToBurnAndTheirPlacesBelongTogether) {
  const TemporaryFolder folder;
  expect_never_half(folder / "out", "burn.svg", [&] {
    std::ostringstream out;
    std::ostringstream err;
    const int status = cli::run({"target", "--grid", "3x2", "--area", "20,20,200,150", "--bed", "300x200", "-o",
                                 (folder / "out/burn.svg").string()},
                                out, err);
    if (status > 1) throw std::runtime_error(err.str());
  });
}

}  // namespace
}  // namespace jigtrue::test
