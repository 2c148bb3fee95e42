// Every seed, and everything that fuzzing ever found (found/), once through its reader in the ordinary build.
#include "jigtrue/base/read_file.hpp"

#include <algorithm>
#include <filesystem>

#include "fuzz/readers.hpp"
#include <gtest/gtest.h>

namespace jigtrue::fuzz {
namespace {

namespace fs = std::filesystem;

std::vector<fs::path> files_for(const std::string& reader, const std::vector<const char*>& kinds = {"seeds", "found"}) {
  std::vector<fs::path> files;
  for (const char* kind : kinds) {
    const fs::path folder = fs::path(JIGTRUE_SOURCE_DIR) / "tests/fuzz" / kind / reader;
    if (!fs::exists(folder)) continue;
    for (const fs::directory_entry& entry : fs::directory_iterator(folder)) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

class Replay : public testing::TestWithParam<const char*> {
 protected:
  [[nodiscard]] static const Reader& reader() {
    return *std::find_if(readers().begin(), readers().end(),
                         [](const Reader& one) { return std::string(one.name) == GetParam(); });
  }
};

std::vector<const char*> names() {
  std::vector<const char*> all;
  for (const Reader& reader : readers()) all.push_back(reader.name);
  return all;
}
INSTANTIATE_TEST_SUITE_P(Readers, Replay, testing::ValuesIn(names()),
                         [](const auto& test) { return std::string(test.param); });

// Mutations that start from something accepted reach far.
TEST_P(Replay, AcceptsItsSeeds) {
  const std::vector<fs::path> files = files_for(GetParam(), {"seeds"});
  ASSERT_FALSE(files.empty()) << "no seeds for this reader";
  for (const fs::path& file : files) EXPECT_TRUE(reader().take(read_text_file(file))) << file;
}

TEST_P(Replay, TakesOrRefusesWhatWasFound) {
  const std::vector<fs::path> files = files_for(GetParam(), {"found"});
  for (const fs::path& file : files) {
    SCOPED_TRACE(file.string());
    EXPECT_NO_THROW((void)reader().take(read_text_file(file)));
  }
}

// What a library prints would stand between the program's own lines.
class Silence {
 public:
  Silence() {
    testing::internal::CaptureStdout();
    testing::internal::CaptureStderr();
  }
  Silence(const Silence&) = delete;
  Silence& operator=(const Silence&) = delete;
  ~Silence() {
    EXPECT_EQ(testing::internal::GetCapturedStdout(), "");
    EXPECT_EQ(testing::internal::GetCapturedStderr(), "");
  }
};

// Cut short at every place, one byte lost or changed: what a bad cable does. Nothing is printed over it.
TEST_P(Replay, TakesOrRefusesDamagedSeeds) {
  const Silence silence;
  for (const fs::path& file : files_for(GetParam())) {
    SCOPED_TRACE(file.string());
    const std::string whole = read_text_file(file);
    const std::size_t step = std::max<std::size_t>(1, whole.size() / 60);
    for (std::size_t at = 0; at < whole.size(); at += step) {
      EXPECT_NO_THROW((void)reader().take(whole.substr(0, at))) << "cut at " << at;
      std::string lost = whole;
      lost.erase(at, 1);
      EXPECT_NO_THROW((void)reader().take(lost)) << "lost " << at;
      for (const char other : {'\0', '0', '-', '"', '\xFF'}) {
        std::string changed = whole;
        changed[at] = other;
        EXPECT_NO_THROW((void)reader().take(changed)) << "changed " << at;
      }
    }
  }
}

}  // namespace
}  // namespace jigtrue::fuzz
