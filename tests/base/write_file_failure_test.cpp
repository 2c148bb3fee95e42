// Failures that a healthy disk does not show: this program's own rename, link and fsync stand before the system's and
// fail on demand.
#include "jigtrue/base/write_file.hpp"
#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <cerrno>
#include <fcntl.h>
#include <fstream>
#include <set>
#include <sys/syscall.h>
#include <unistd.h>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace {

struct Fault {
  int at_call = 0;  // counted from 1; 0 = never
  int error = 0;
  bool and_all_later = false;
  int calls = 0;

  bool strikes() {
    ++calls;
    if (at_call == 0 || calls < at_call || (calls > at_call && !and_all_later)) return false;
    errno = error;
    return true;
  }
};

struct Faults {
  Fault rename;
  Fault fsync;
  bool links_unknown = false;
};
Faults faults;

}  // namespace

extern "C" int rename(const char* from, const char* to) noexcept {
  return faults.rename.strikes() ? -1 : ::renameat(AT_FDCWD, from, AT_FDCWD, to);
}
extern "C" int link(const char* from, const char* to) noexcept {
  if (!faults.links_unknown) return ::linkat(AT_FDCWD, from, AT_FDCWD, to, 0);
  errno = EPERM;
  return -1;
}
extern "C" int fsync(int descriptor) {
  return faults.fsync.strikes() ? -1 : static_cast<int>(::syscall(SYS_fsync, descriptor));
}

namespace jigtrue {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;

// Three files are written, of which "a" and "c" were there before and "b" was not.
class WriteFilesFailure : public testing::TestWithParam<bool> {
 protected:
  void SetUp() override {
    put("a", "old a");
    put("c", "old c");
    faults = {};
    faults.links_unknown = GetParam();
  }
  void TearDown() override { faults = {}; }

  void put(const std::string& name, const std::string& text) const { std::ofstream(folder_ / name) << text; }
  void write() const { write_files({{folder_ / "a", "new a"}, {folder_ / "b", "new b"}, {folder_ / "c", "new c"}}); }
  [[nodiscard]] std::set<std::string> content() const {
    std::set<std::string> all;
    for (const fs::directory_entry& entry : fs::directory_iterator(folder_.path())) {
      all.insert(entry.path().filename().string() + ": " + read_text_file(entry.path()));
    }
    return all;
  }

  const std::set<std::string> old_content_ = {"a: old a", "c: old c"};
  const std::set<std::string> new_content_ = {"a: new a", "b: new b", "c: new c"};
  test::TemporaryFolder folder_;
};

TEST_P(WriteFilesFailure, NoneWhenNothingFails) {
  write();
  EXPECT_EQ(content(), new_content_);
}

TEST_P(WriteFilesFailure, AnyRenameThatFailsLeavesTheOldSet) {
  write();
  const int renames = faults.rename.calls;
  ASSERT_GE(renames, 3);
  for (int at = 1; at <= renames; ++at) {
    fs::remove(folder_ / "b");
    put("a", "old a");
    put("c", "old c");
    faults.rename = {at, EIO, false, 0};
    EXPECT_THAT(test::input_error_text([&] { write(); }), HasSubstr(folder_.path().string())) << "rename " << at;
    EXPECT_EQ(content(), old_content_) << "rename " << at;
  }
}

// Then the way back is shut too: what was there may be left under a spare name, but it is not lost.
TEST_P(WriteFilesFailure, OldContentIsNotLostWhenEveryLaterRenameFailsToo) {
  write();
  const int renames = faults.rename.calls;
  for (int at = 1; at <= renames; ++at) {
    faults.rename = {};
    put("a", "old a");
    put("c", "old c");
    faults.rename = {at, EIO, true, 0};
    test::input_error_text([&] { write(); });
    std::string all;
    for (const std::string& file : content()) all += file + "\n";
    EXPECT_THAT(all, AllOf(HasSubstr("old a"), HasSubstr("old c"))) << "from rename " << at;
  }
}

TEST_P(WriteFilesFailure, AFullDiskThatShowsOnlyWhenFlushingLeavesTheOldSet) {
  constexpr int files = 3;
  for (int at = 1; at <= files; ++at) {
    faults.fsync = {at, ENOSPC, false, 0};
    EXPECT_THAT(test::input_error_text([&] { write(); }), AllOf(HasSubstr("disk is full"), HasSubstr("make room")));
    EXPECT_EQ(content(), old_content_) << "fsync " << at;
  }
}

INSTANTIATE_TEST_SUITE_P(Links, WriteFilesFailure, testing::Bool(), [](const auto& links) {
  return links.param ? std::string("where_a_file_has_one_name") : std::string("where_a_file_may_have_two_names");
});

}  // namespace
}  // namespace jigtrue
