#include "jigtrue/base/append_line.hpp"

#include "jigtrue/base/read_file.hpp"
#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <algorithm>
#include <fstream>
#include <thread>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

TEST(AppendLine, AddsLinesAndKeepsWhatWasThere) {
  const test::TemporaryFolder folder;
  const auto file = folder.path() / "record";
  append_line(file, "one");
  append_line(file, "two");
  EXPECT_EQ(read_text_file(file), "one\ntwo\n");
}

TEST(AppendLine, ClosesALineThatWasLeftUnfinished) {
  const test::TemporaryFolder folder;
  const auto file = folder.path() / "record";
  std::ofstream(file) << "one\n{\"half";
  append_line(file, "two");
  EXPECT_EQ(read_text_file(file), "one\n{\"half\ntwo\n");
}

TEST(AppendLine, SeveralAtOnceLoseNoLine) {
  const test::TemporaryFolder folder;
  const auto file = folder.path() / "record";
  const std::string line(3000, 'x');
  std::vector<std::thread> threads;
  threads.reserve(4);
  for (int t = 0; t < 4; ++t)
    threads.emplace_back([&] {
      for (int i = 0; i < 25; ++i) append_line(file, line);
    });
  for (std::thread& thread : threads) thread.join();
  const std::string text = read_text_file(file);
  EXPECT_EQ(std::count(text.begin(), text.end(), 'x'), 4 * 25 * 3000);
  std::size_t whole = 0;
  for (std::size_t at = 0; (at = text.find(line + "\n", at)) != std::string::npos; at += line.size() + 1) ++whole;
  EXPECT_EQ(whole, 100U);
}

TEST(AppendLine, NamesTheFileThatCannotBeWritten) {
  const test::TemporaryFolder folder;
  const auto file = folder.path() / "missing" / "record";
  EXPECT_NE(test::input_error_text([&] { append_line(file, "one"); }).find("record"), std::string::npos);
  EXPECT_THROW(append_line(folder.path() / "record", "two\nlines"), std::logic_error);
}

}  // namespace
}  // namespace jigtrue
