#include "jigtrue/base/read_file.hpp"

#include "jigtrue/base/error.hpp"
#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <fstream>
#include <sys/stat.h>
#include <thread>
#include <unistd.h>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using test::input_error_text;
using testing::AllOf;
using testing::HasSubstr;

void put_bytes(const std::filesystem::path& file, const std::string& text) {
  std::ofstream(file, std::ios::binary) << text;
}

TEST(ReadTextFile, GivesEveryByte) {
  const test::TemporaryFolder folder;
  const std::string text("a\0b\r\n\xFF", 6);
  put_bytes(folder / "text", text);
  EXPECT_EQ(read_text_file(folder / "text"), text);
}

TEST(ReadTextFile, GivesAnEmptyFileAsAnEmptyText) {
  const test::TemporaryFolder folder;
  put_bytes(folder / "empty", "");
  EXPECT_EQ(read_text_file(folder / "empty"), "");
}

TEST(ReadTextFile, ReadsAPipeToItsEnd) {
  const test::TemporaryFolder folder;
  const std::filesystem::path pipe = folder / "pipe";
  ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
  const std::string text(300'000, 'x');  // more than a pipe holds at once, and than the first room for it
  std::thread writer([&] { put_bytes(pipe, text); });
  EXPECT_EQ(read_text_file(pipe), text);
  writer.join();
}

TEST(ReadTextFile, SaysWhatIsWrongAndWhatToDo) {
  const test::TemporaryFolder folder;
  const std::string missing = (folder / "missing.json").string();
  EXPECT_THAT(input_error_text([&] { return read_text_file(missing); }),
              AllOf(HasSubstr(missing), HasSubstr("no such file"), HasSubstr("check the name")));
  EXPECT_THAT(input_error_text([&] { return read_text_file(folder.path()); }),
              AllOf(HasSubstr(folder.path().string()), HasSubstr("is a folder")));
}

TEST(ReadTextFile, KeepsToItsLimit) {
  const test::TemporaryFolder folder;
  put_bytes(folder / "ten", "0123456789");
  EXPECT_EQ(read_text_file(folder / "ten", 10).size(), 10u);
  EXPECT_THAT(input_error_text([&] { return read_text_file(folder / "ten", 9); }), HasSubstr("larger than 9 bytes"));
}

TEST(ReadTextFile, KeepsToItsLimitWhereTheSizeIsNotToldBeforehand) {
  if (::access("/dev/zero", R_OK) != 0) GTEST_SKIP() << "no endless file on this system";
  EXPECT_THAT(input_error_text([] { return read_text_file("/dev/zero", 1000); }), HasSubstr("larger than 1000 bytes"));
}

}  // namespace
}  // namespace jigtrue
