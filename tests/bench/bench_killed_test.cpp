// The whole program killed while photos come in: the book keeps what was acknowledged, whole, and nothing half.
#include "jigtrue/base/read_file.hpp"

#include <fstream>
#include <random>
#include <thread>

#include "bench/bench_process.hpp"
#include "bench/bench_rig.hpp"
#include "bench/client.hpp"
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

// One pen of the demo: a check of it is short, so a kill often meets the writing.
std::filesystem::path one_pen(const TemporaryFolder& folder) {
  nlohmann::json fixture =
      nlohmann::json::parse(read_text_file(project_file("fixtures/demo/pens/fixture.json")), nullptr, true, true);
  fixture.erase("machine");  // a file beside it
  fixture["slots"] = nlohmann::json::array({fixture["slots"][0]});
  std::ofstream(folder / "one.json") << fixture.dump();
  return folder / "one.json";
}

void expect_whole(const Book& book, std::int64_t id) {
  const std::optional<BookLoad> load = book.load(id);
  ASSERT_TRUE(load) << "load " << id << " was acknowledged";
  EXPECT_EQ(load->slots.size(), 1U);
  EXPECT_TRUE(nlohmann::json::accept(book.file(id, "report.json").value_or("")));
  EXPECT_TRUE(book.file(id, "layout.svg").value_or("").ends_with("</svg>\n"));
  EXPECT_TRUE(book.file(id, "report.html").value_or("").ends_with("</html>\n"));
  for (const char* picture : {"annotated.jpg", "closeup.jpg"})
    EXPECT_TRUE(book.file(id, picture).value_or("").ends_with("\xFF\xD9"));
}

TEST(BenchKilled, KeepsWhatItAcknowledged) {
  const TemporaryFolder folder;
  const std::filesystem::path file = folder / "shop.book";
  const std::string fixture = one_pen(folder).string();
  const std::string photo = demo_photo();
  std::mt19937 random(::testing::UnitTest::GetInstance()->random_seed() + ::getpid());
  std::int64_t acknowledged = 0;
  for (int round = 0; round < 5; ++round) {
    BenchProcess bench(
        {"--camera", project_file("calib/sample/camera.json").string(), "--fixture", fixture, "--book", file.string()});
    ASSERT_NE(bench.port(), 0) << bench.said();
    const std::string host = "127.0.0.1:" + std::to_string(bench.port());
    const std::string upload = form({{"photo", "a.jpg", photo}}, "/photos", host);
    // one is told of before anything is killed; then one is cut down somewhere on its way
    for (const bool to_the_end : {true, false}) {
      Client client(bench.port(), upload);
      if (!to_the_end) std::this_thread::sleep_for(std::chrono::milliseconds(random() % 500));
      if (!to_the_end) bench.kill();
      const std::string answer = client.answer(to_the_end ? 60.0 : 0.1);
      if (status_of(answer) == 201) acknowledged = std::stol(body_of(answer).substr(5));
    }
    const Book book(file);
    ASSERT_GE(acknowledged, round + 1);
    expect_whole(book, acknowledged);
    const std::int64_t last = book.last_load()->id;
    EXPECT_LE(last, acknowledged + 1) << "at most the one that was on its way";
    expect_whole(book, last);
  }
}

}  // namespace
}  // namespace jigtrue::test
