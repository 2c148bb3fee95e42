// The page as a browser shows it. Skips visibly where no Chromium is installed.
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/report/report_html.hpp"
#include "support/patterns.hpp"
#include "support/sample_result.hpp"
#include "support/temporary_folder.hpp"

#include <cstdlib>
#include <fstream>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

std::string browser() {
  for (const char* name : {"/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"})
    if (std::filesystem::exists(name)) return name;
  return {};
}

class PageInBrowser : public testing::Test {
 protected:
  void SetUp() override {
    if (browser().empty()) GTEST_SKIP() << "no Chromium is installed";
    write(test::sample_result());
  }

  void write(CheckResult result) const {
    for (SlotResult& slot : result.slots) slot.sketch.band = slot.sketch.design_box;
    const cv::Mat3b grey(160, 180, cv::Vec3b(120, 130, 140));
    std::ofstream(page(), std::ios::binary)
        << report_html(result, encode_jpeg(grey), {"2024-05-01", "0.1.0", std::nullopt});
  }

  [[nodiscard]] std::filesystem::path page() const { return folder_ / "report.html"; }

  // What the browser prints on its standard output, and what it has to say on the other.
  [[nodiscard]] bool run(const std::string& options) const {
    const std::string profile = (folder_ / "profile").string();
    const std::string command = "timeout 100 " + browser() +
                                " --headless --no-sandbox --disable-gpu --hide-scrollbars --enable-logging=stderr "
                                "--user-data-dir='" +
                                profile + "' " + options + " 'file://" + page().string() + "' >'" +
                                (folder_ / "out.txt").string() + "' 2>'" + (folder_ / "err.txt").string() + "'";
    return std::system(command.c_str()) == 0;
  }
  [[nodiscard]] std::string said() const { return read_text_file(folder_ / "err.txt"); }

  test::TemporaryFolder folder_;
};

TEST_F(PageInBrowser, ParsesWholeAndWithoutComplaint) {
  ASSERT_TRUE(run("--dump-dom"));
  const std::string dom = read_text_file(folder_ / "out.txt");
  // every slot came through as an element of its own, and nothing of the page was lost by bad markup
  for (int i = 1; i <= 8; ++i) {
    EXPECT_NE(dom.find("id=\"row-" + std::to_string(i) + "\""), std::string::npos);
    EXPECT_NE(dom.find("id=\"pic-" + std::to_string(i) + "\""), std::string::npos);
  }
  for (const char* id : {"see-band", "see-edge", "see-mid", "see-art", "see-name", "size-1", "size-2", "size-4"})
    EXPECT_NE(dom.find("id=\"" + std::string(id) + "\""), std::string::npos) << id;
  EXPECT_TRUE(dom.find("<footer>") != std::string::npos && dom.find("Before the laser fires") != std::string::npos);
  // the console holds what the page's security policy would have stopped
  EXPECT_EQ(said().find("Content Security Policy"), std::string::npos) << said();
  EXPECT_EQ(said().find("Refused to"), std::string::npos) << said();
}

// Layers, the pairs of rows and places in the photo, zoom, keyboard, what a screen reader is told, contrast, widths.
TEST_F(PageInBrowser, CanBeUsedByPointerKeyboardAndScreenReader) {
  const std::string python = "/usr/bin/python3";
  if (!std::filesystem::exists(python)) GTEST_SKIP() << "no Python is installed";
  const std::string command = "timeout 200 " + python + " '" + JIGTRUE_SOURCE_DIR + "/tests/report/drive_page.py' " +
                              browser() + " '" + page().string() + "' 8 >'" + (folder_ / "out.txt").string() + "' 2>&1";
  EXPECT_EQ(std::system(command.c_str()), 0) << read_text_file(folder_ / "out.txt");
}

// A usual load: five slots, two of which need a person. Many slots, or many that need one, take a second page.
TEST_F(PageInBrowser, PrintsOnOnePage) {
  CheckResult load = test::sample_result();
  load.slots.erase(load.slots.begin() + 5, load.slots.begin() + 7);
  load.slots.erase(load.slots.begin() + 2);
  write(load);
  ASSERT_TRUE(run("--no-pdf-header-footer --print-to-pdf='" + (folder_ / "page.pdf").string() + "'"));
  const std::string pdf = read_text_file(folder_ / "page.pdf");
  // page objects, "/Type /Page" and not "/Pages" (PDF 32000-1, 7.7.3.3)
  EXPECT_EQ(test::all_matches(pdf, "/Type ?/Page[^s]").size(), 1u);
}

TEST_F(PageInBrowser, ShowsInLightDarkAndNarrow) {
  struct View {
    const char* name;
    const char* options;
  };
  std::vector<std::string> pictures;
  for (const View& view : {View{"light", "--blink-settings=preferredColorScheme=1 --window-size=1200,1600"},
                           View{"dark", "--blink-settings=preferredColorScheme=0 --window-size=1200,1600"},
                           View{"narrow", "--window-size=500,1600"}}) {
    const std::filesystem::path file = folder_ / (std::string(view.name) + ".png");
    ASSERT_TRUE(run(std::string(view.options) + " --screenshot='" + file.string() + "'")) << view.name;
    pictures.push_back(read_text_file(file));
    EXPECT_GT(pictures.back().size(), 20'000u) << view.name << ": an empty page";
  }
  EXPECT_NE(pictures[0], pictures[1]) << "dark looks like light";
}

}  // namespace
}  // namespace jigtrue
