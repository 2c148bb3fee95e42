// The bench as people meet it: the program with its page in a browser. Skips visibly where no Chromium or Python is
// installed.
#include <cstdlib>

#include "bench/bench_process.hpp"
#include "bench/bench_rig.hpp"
#include <gtest/gtest.h>

namespace jigtrue::test {
namespace {

std::string browser_program() {
  for (const char* name : {"/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"})
    if (std::filesystem::exists(name)) return name;
  return {};
}

TEST(BenchPage, CanBeUsedByPointerKeyboardPhoneAndScreenReader) {
  const std::string python = "/usr/bin/python3";
  if (browser_program().empty() || !std::filesystem::exists(python))
    GTEST_SKIP() << "no Chromium or Python is installed";
  const TemporaryFolder folder;
  const std::string demo = project_file("fixtures/demo/pens").string();
  BenchProcess bench({"--camera", project_file("calib/sample/camera.json").string(), "--fixture",
                      demo + "/fixture.json", "--snap", "cp " + demo + "/photo.jpg", "--book",
                      (folder / "shop.book").string()});
  ASSERT_NE(bench.port(), 0) << bench.said();
  const std::string command = "timeout 100 " + python + " '" + project_file("tests/bench/drive_bench.py").string() +
                              "' " + browser_program() + " http://127.0.0.1:" + std::to_string(bench.port()) + "/ '" +
                              demo + "/photo.jpg' '" + demo + "/photo-2.jpg' >'" + (folder / "out.txt").string() +
                              "' 2>&1";
  EXPECT_EQ(std::system(command.c_str()), 0) << read_text_file(folder / "out.txt");
  EXPECT_EQ(bench.end(), 0) << "asked to, it ends by itself";
}

}  // namespace
}  // namespace jigtrue::test
