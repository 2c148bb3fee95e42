// Photos that appear in a folder, and photos that a command takes.
#include "jigtrue/bench/photo_sources.hpp"

#include "jigtrue/base/error.hpp"
#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <chrono>
#include <condition_variable>
#include <fstream>
#include <mutex>
#include <set>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace jigtrue::test {
namespace {

using testing::HasSubstr;

const std::string kWhole = std::string("\xFF\xD8", 2) + "picture" + std::string("\xFF\xD9", 2);

class Seen {
 public:
  void add(const std::string& line) {
    const std::lock_guard<std::mutex> guard(mutex_);
    lines_.push_back(line);
    change_.notify_all();
  }
  std::vector<std::string> lines(std::size_t count, double seconds) {
    std::unique_lock<std::mutex> guard(mutex_);
    change_.wait_for(guard, std::chrono::duration<double>(seconds), [&] { return lines_.size() >= count; });
    return lines_;
  }

 private:
  std::mutex mutex_;
  std::condition_variable change_;
  std::vector<std::string> lines_;
};

TEST(FolderWatch, TakesWholePhotosOnceTheyAreThere) {
  const TemporaryFolder folder;
  const auto put_file = [&](const std::string& name, const std::string& bytes,
                            std::ios::openmode mode = std::ios::out) {
    std::ofstream(folder / name, std::ios::binary | mode) << bytes;
  };
  put_file("old.jpg", kWhole);
  Seen seen;
  const FolderWatch watch(folder.path(),
                          {looks_whole,
                           [&](const std::string& name, const std::string& bytes) {
                             seen.add(name + (bytes == kWhole ? " whole" : " cut"));
                           },
                           [&](const std::string& name, const std::string&) { seen.add(name + " bad"); }});
  // in two pieces, with a pause longer than the watch waits for silence
  put_file("slow.jpg", kWhole.substr(0, 5));
  put_file("notes.txt", "none");
  put_file(".hidden.jpg", kWhole);
  std::filesystem::create_directory(folder / "sub.jpg.d");
  std::this_thread::sleep_for(std::chrono::milliseconds(900));
  EXPECT_TRUE(seen.lines(1, 0.0).empty()) << "half a photo is none yet";
  put_file("slow.jpg", kWhole.substr(5), std::ios::app);
  // written under another name, then renamed: as careful programs do
  put_file("coming.part", kWhole);
  std::filesystem::rename(folder / "coming.part", folder / "moved.jpg");
  const std::vector<std::string> taken = seen.lines(2, 60.0);
  EXPECT_EQ(std::set<std::string>(taken.begin(), taken.end()),
            (std::set<std::string>{"moved.jpg whole", "slow.jpg whole"}));
}

TEST(FolderWatch, TellsAFolderThatIsNotThere) {
  const TemporaryFolder folder;
  EXPECT_THAT(input_error_text([&] { FolderWatch(folder / "none", {}); }), HasSubstr("cannot be watched"));
}

TEST(SnapPhoto, GivesWhatTheCommandWrote) {
  EXPECT_EQ(snap_photo("printf picture >"), "picture") << "the path is the last argument";
  EXPECT_EQ(snap_photo("printf picture > {} && true"), "picture") << "or where it is asked for";
}

TEST(SnapPhoto, TellsWhatWentWrong) {
  EXPECT_THAT(input_error_text([] { (void)snap_photo("echo no device found >&2; exit 3 #"); }),
              HasSubstr("failed (\"no device found\")"));
  EXPECT_THAT(input_error_text([] { (void)snap_photo("true"); }), HasSubstr("wrote no photo"));
  EXPECT_THAT(input_error_text([] { (void)snap_photo("no-such-camera"); }), HasSubstr("failed"));
  const auto start = std::chrono::steady_clock::now();
  EXPECT_THAT(input_error_text([] { (void)snap_photo("sleep 30 | sleep 30 #", 0.3); }),
              HasSubstr("did not end within"));
  EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(25));
}

}  // namespace
}  // namespace jigtrue::test
