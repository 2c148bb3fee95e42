#include "jigtrue/base/write_file.hpp"

#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <csignal>
#include <fstream>
#include <set>
#include <sys/resource.h>
#include <sys/stat.h>
#include <thread>
#include <unistd.h>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

namespace fs = std::filesystem;
using test::input_error_text;
using test::TemporaryFolder;
using testing::AllOf;
using testing::HasSubstr;

void put(const fs::path& file, const std::string& text) { std::ofstream(file, std::ios::binary) << text; }

std::set<std::string> names_in(const fs::path& folder) {
  std::set<std::string> names;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder))
    names.insert(entry.path().filename().string());
  return names;
}
using Names = std::set<std::string>;

mode_t mode_of(const fs::path& file) {
  struct stat status = {};
  EXPECT_EQ(::stat(file.c_str(), &status), 0);
  return status.st_mode & 07777;
}

// Permissions bind everyone but root: as root, the test acts as the system's powerless user for a while.
class WithoutPowers {
 public:
  WithoutPowers() : was_root_(::geteuid() == 0) {
    constexpr uid_t nobody = 65534;
    if (was_root_) act_as(nobody);
  }
  WithoutPowers(const WithoutPowers&) = delete;
  WithoutPowers& operator=(const WithoutPowers&) = delete;
  ~WithoutPowers() {
    if (was_root_) act_as(0);
  }

 private:
  static void act_as(uid_t user) { EXPECT_EQ(::seteuid(user), 0); }
  bool was_root_;
};

TEST(WriteFiles, WritesEveryFileOfTheSetAndNothingElse) {
  const TemporaryFolder folder;
  const std::string bytes("\0\xFF\r\n", 4);
  write_files({{folder / "a", bytes}, {folder / "b", ""}});
  EXPECT_EQ(read_text_file(folder / "a"), bytes);
  EXPECT_EQ(read_text_file(folder / "b"), "");
  EXPECT_EQ(names_in(folder.path()), (Names{"a", "b"}));
}

TEST(WriteFiles, ReplacesWhatWasThereAndKeepsItsMode) {
  const TemporaryFolder folder;
  put(folder / "a", "a much longer old text");
  put(folder / "b", "old");
  fs::permissions(folder / "a", fs::perms(0640));
  write_files({{folder / "a", "new a"}, {folder / "b", "new b"}});
  EXPECT_EQ(read_text_file(folder / "a"), "new a");
  EXPECT_EQ(read_text_file(folder / "b"), "new b");
  EXPECT_EQ(mode_of(folder / "a"), 0640u);
  EXPECT_EQ(names_in(folder.path()), (Names{"a", "b"}));
}

TEST(WriteFiles, MakesMissingFolders) {
  const TemporaryFolder folder;
  write_files({{folder / "x/y/a", "text"}});
  EXPECT_EQ(read_text_file(folder / "x/y/a"), "text");
}

TEST(WriteFiles, TakesTheLongestNameThatAFolderHolds) {
  const TemporaryFolder folder;
  const std::string longest(255, 'n');
  write_files({{folder / longest, "text"}});
  EXPECT_EQ(read_text_file(folder / longest), "text");
  EXPECT_THAT(input_error_text([&] {
                write_files({{folder / (longest + "n"), "text"}});
              }),
              HasSubstr("name is too long"));
}

TEST(WriteFiles, RewritesTheFileThatALinkNames) {
  const TemporaryFolder folder;
  fs::create_directory(folder / "kept");
  put(folder / "kept/real", "old");
  fs::create_symlink("kept/real", folder / "second");
  fs::create_symlink("second", folder / "first");
  write_files({{folder / "first", "new"}, {folder / "other", "text"}});
  EXPECT_TRUE(fs::is_symlink(folder / "first"));
  EXPECT_TRUE(fs::is_symlink(folder / "second"));
  EXPECT_FALSE(fs::is_symlink(folder / "kept/real"));
  EXPECT_EQ(read_text_file(folder / "kept/real"), "new");
  EXPECT_EQ(names_in(folder / "kept"), Names{"real"});
}

TEST(WriteFiles, MakesTheFileThatADanglingLinkNames) {
  const TemporaryFolder folder;
  fs::create_symlink("real", folder / "link");
  write_files({{folder / "link", "new"}});
  EXPECT_TRUE(fs::is_symlink(folder / "link"));
  EXPECT_EQ(read_text_file(folder / "real"), "new");
}

TEST(WriteFiles, RefusesLinksInACircle) {
  const TemporaryFolder folder;
  fs::create_symlink("b", folder / "a");
  fs::create_symlink("a", folder / "b");
  EXPECT_THAT(input_error_text([&] {
                write_files({{folder / "a", "new"}});
              }),
              AllOf(HasSubstr((folder / "a").string()), HasSubstr("circle")));
}

TEST(WriteFiles, AFolderAsATargetLeavesTheSetUnwritten) {
  const TemporaryFolder folder;
  put(folder / "a", "old");
  fs::create_directory(folder / "b");
  EXPECT_THAT(input_error_text([&] {
                write_files({{folder / "a", "new"}, {folder / "b", "new"}});
              }),
              AllOf(HasSubstr((folder / "b").string()), HasSubstr("is a folder"), HasSubstr("choose another")));
  EXPECT_EQ(read_text_file(folder / "a"), "old");
  EXPECT_EQ(names_in(folder.path()), (Names{"a", "b"}));
}

TEST(WriteFiles, APathBelowAFileLeavesTheSetUnwrittenAndNoNewFolder) {
  const TemporaryFolder folder;
  put(folder / "file", "old");
  EXPECT_THAT(input_error_text([&] {
                write_files({{folder / "new/a", "new"}, {folder / "file/b", "new"}});
              }),
              AllOf(HasSubstr((folder / "file").string()), HasSubstr("is a file where a folder is needed")));
  EXPECT_EQ(names_in(folder.path()), Names{"file"});
}

TEST(WriteFiles, ADeviceIsNotReplaced) {
  const TemporaryFolder folder;
  ASSERT_EQ(::mkfifo((folder / "pipe").c_str(), 0600), 0);
  EXPECT_THAT(input_error_text([&] { write_files({{folder / "pipe", "new"}}); }), HasSubstr("not an ordinary file"));
  EXPECT_TRUE(fs::is_fifo(folder / "pipe"));
}

TEST(WriteFiles, OneFileNamedTwiceIsRefused) {
  const TemporaryFolder folder;
  put(folder / "a", "old");
  fs::create_symlink("a", folder / "b");
  EXPECT_THAT(input_error_text([&] {
                write_files({{folder / "a", "1"}, {folder / "b", "2"}});
              }),
              HasSubstr("one file"));
  EXPECT_EQ(read_text_file(folder / "a"), "old");
}

TEST(WriteFiles, AReadOnlyFolderIsNamed) {
  const TemporaryFolder folder;
  fs::permissions(folder.path(), fs::perms(0755));
  fs::create_directory(folder / "shut");
  fs::permissions(folder / "shut", fs::perms(0555));
  const WithoutPowers guard;
  EXPECT_THAT(
      input_error_text([&] {
        write_files({{folder / "shut/a", "new"}});
      }),
      AllOf(HasSubstr((folder / "shut/a").string()), HasSubstr("permission denied"), HasSubstr("another place")));
  EXPECT_EQ(names_in(folder / "shut"), Names{});
}

TEST(WriteFiles, AReadOnlyFileIsNotReplaced) {
  const TemporaryFolder folder;
  put(folder / "a", "old");
  fs::permissions(folder / "a", fs::perms(0444));
  fs::permissions(folder.path(), fs::perms(0777));
  const WithoutPowers guard;
  EXPECT_THAT(input_error_text([&] { write_files({{folder / "a", "new"}}); }), HasSubstr("permission denied"));
  EXPECT_EQ(read_text_file(folder / "a"), "old");
  EXPECT_EQ(names_in(folder.path()), Names{"a"});
}

// The kernel itself cuts the second file short here, as a full disk would.
TEST(WriteFiles, AFileThatDoesNotFitLeavesTheSetUnwritten) {
  const TemporaryFolder folder;
  put(folder / "a", "old");
  rlimit before = {};
  ASSERT_EQ(::getrlimit(RLIMIT_FSIZE, &before), 0);
  const auto handler = std::signal(SIGXFSZ, SIG_IGN);
  rlimit small = before;
  small.rlim_cur = 4096;
  ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &small), 0);
  const std::string text = input_error_text([&] {
    write_files({{folder / "a", "new"}, {folder / "b", std::string(10'000, 'x')}});
  });
  ASSERT_EQ(::setrlimit(RLIMIT_FSIZE, &before), 0);
  std::signal(SIGXFSZ, handler);
  EXPECT_THAT(text, HasSubstr((folder / "b").string()));
  EXPECT_EQ(read_text_file(folder / "a"), "old");
  EXPECT_EQ(names_in(folder.path()), Names{"a"});
}

TEST(WriteFiles, WritersSideBySideDoNotDisturbEachOther) {
  const TemporaryFolder folder;
  constexpr int writers = 4;
  constexpr int rounds = 50;
  std::vector<std::thread> threads;
  threads.reserve(writers);
  for (int writer = 0; writer < writers; ++writer) {
    threads.emplace_back([&folder, writer] {
      const std::string name = std::to_string(writer);
      for (int round = 0; round < rounds; ++round) {
        write_files({{folder / ("a" + name), name + "a"}, {folder / ("b" + name), name + "b"}});
      }
    });
  }
  for (std::thread& thread : threads) thread.join();
  EXPECT_EQ(names_in(folder.path()).size(), 2u * writers);
  for (int writer = 0; writer < writers; ++writer) {
    const std::string name = std::to_string(writer);
    EXPECT_EQ(read_text_file(folder / ("a" + name)), name + "a");
    EXPECT_EQ(read_text_file(folder / ("b" + name)), name + "b");
  }
}

// The same set by several at once: whoever is last has all of it, never a part.
TEST(WriteFiles, OneSetWrittenBySeveralIsOfOneOfThem) {
  const TemporaryFolder folder;
  constexpr int files = 12;
  for (int round = 0; round < 15; ++round) {
    std::vector<std::thread> threads;
    for (const char* writer : {"1", "2", "3"}) {
      threads.emplace_back([&folder, writer] {
        std::vector<FileContent> set;
        set.reserve(files);
        for (int i = 0; i < files; ++i) set.push_back({folder / ("f" + std::to_string(i)), writer});
        write_files(set);
      });
    }
    for (std::thread& thread : threads) thread.join();
    ASSERT_EQ(names_in(folder.path()).size(), std::size_t{files});
    for (int i = 1; i < files; ++i)
      ASSERT_EQ(read_text_file(folder / ("f" + std::to_string(i))), read_text_file(folder / "f0")) << "round " << round;
  }
}

TEST(PrepareFolder, MakesItWithItsParentsAndTakesItWhenThere) {
  const TemporaryFolder folder;
  prepare_folder(folder / "x/y/");
  prepare_folder(folder / "x/y");
  EXPECT_TRUE(fs::is_directory(folder / "x/y"));
}

TEST(PrepareFolder, RefusesAFileAndAPathBelowOne) {
  const TemporaryFolder folder;
  put(folder / "file", "old");
  for (const char* name : {"file", "file/x"}) {
    EXPECT_THAT(input_error_text([&] { prepare_folder(folder / name); }),
                HasSubstr("is a file where a folder is needed"));
  }
  EXPECT_THAT(input_error_text([] { prepare_folder(""); }), HasSubstr("no name"));
}

TEST(PrepareFolder, RefusesAFolderThatCannotBeWrittenInto) {
  const TemporaryFolder folder;
  fs::permissions(folder.path(), fs::perms(0555));
  const WithoutPowers guard;
  EXPECT_THAT(input_error_text([&] { prepare_folder(folder.path()); }), HasSubstr("permission denied"));
  EXPECT_THAT(input_error_text([&] { prepare_folder(folder / "x"); }), HasSubstr("cannot be made"));
}

}  // namespace
}  // namespace jigtrue
