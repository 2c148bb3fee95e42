// Photos in, pages and files out, as a browser would ask for them.
#include "jigtrue/bench/bench_site.hpp"

#include "bench/bench_rig.hpp"
#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace jigtrue::test {
namespace {

using testing::HasSubstr;
using testing::Not;

TEST(BenchSite, ChecksAPhotoAndServesItsFiveFiles) {
  BenchRig rig;
  const std::string made = rig.ask(form({{"photo", "../../etc/load.jpg", demo_photo()}}, "/photos"));
  ASSERT_EQ(status_of(made), 201) << made;
  EXPECT_THAT(made, HasSubstr("Location: /loads/1\r\n"));
  for (const char* name : {"report.json", "offsets.csv", "layout.svg", "annotated.jpg", "report.html"}) {
    const std::string file = rig.ask(get(std::string("/loads/1/") + name));
    EXPECT_EQ(status_of(file), 200) << name;
    EXPECT_GT(body_of(file).size(), 500U) << name;
  }
  EXPECT_EQ(body_of(rig.ask(get("/loads/1/"))), body_of(rig.ask(get("/loads/1/report.html"))));
  EXPECT_THAT(rig.ask(get("/loads/1")), HasSubstr("Location: /loads/1/\r\n"));
  const std::string page = body_of(rig.ask(get("/")));
  EXPECT_THAT(page, HasSubstr("<h1>5 of 6 ready</h1>"));
  EXPECT_THAT(page, HasSubstr("Slot 5</span> &ndash; empty"));
  EXPECT_EQ(rig.book.load(1)->photo, "load.jpg") << "a name for people, no path";
}

TEST(BenchSite, TellsAPhotoThatCannotBeUsedAndKeepsTheLastLoad) {
  BenchRig rig;
  const std::string refused = rig.ask(form({{"photo", "cat.jpg", "not a photo"}}, "/photos"));
  EXPECT_EQ(status_of(refused), 422);
  EXPECT_THAT(body_of(refused), HasSubstr("cat.jpg"));
  EXPECT_THAT(body_of(rig.ask(get("/"))), HasSubstr("<h1>Photo not used</h1>"));
  const std::string moved = rig.ask(form({{"photo", "photo-3.jpg", demo_photo("photo-3.jpg")}}, "/photos"));
  EXPECT_EQ(status_of(moved), 422) << "somebody leaned on the camera's arm";
  EXPECT_EQ(body_of(rig.ask(get("/moved.jpg"))).substr(0, 2), "\xFF\xD8");
  EXPECT_FALSE(rig.book.last_load());
}

TEST(BenchSite, KnowsItsFixturesByNameOnly) {
  BenchRig rig;
  EXPECT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", "x"}, {"fixture", "", "/etc/passwd"}}, "/photos"))), 400);
  for (const char* name : {"six fair pens", "pens.json", "pens", "jigs/pens.json", "1"})
    EXPECT_EQ(rig.desk.fixture_called(name), 0U) << name;
}

TEST(BenchSite, AnswersNothingThatIsNotItsOwn) {
  BenchRig rig;
  for (const char* path :
       {"/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/loads/1/../../book", "/loads/..%2f..%2fx",
        "/loads/1/%2e%2e/report.json", "/loads/-1/report.json", "/loads/99999999999999999999/", "/loads/1/moved.jpg",
        "/batches/1/list", "/etc/passwd", "//", "/shop.book", "/loads//", "/loads"})
    EXPECT_EQ(status_of(rig.ask(get(path))), 404) << path;
}

TEST(BenchSite, GivesNamesToReadyBlanksUntilAllAreDone) {
  BenchRig rig;
  ASSERT_EQ(
      status_of(rig.ask(form({{"name", "", "May"}, {"names", "", "text\nOna\nBo\nYg\nUlm\nTiv\nMarr\n"}}, "/batches"))),
      201);
  ASSERT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", demo_photo()}}, "/photos"))), 201);
  EXPECT_EQ(rig.book.current_batch()->left(), 6) << "a photo burns nothing";
  ASSERT_EQ(status_of(rig.ask("POST /loads/1/burned HTTP/1.1\r\nHost: localhost:8087\r\nContent-Length: 0\r\n\r\n")),
            200);
  EXPECT_EQ(rig.book.current_batch()->left(), 1) << "slot 5 is empty";
  EXPECT_EQ(status_of(rig.ask("POST /loads/1/burned HTTP/1.1\r\nHost: localhost:8087\r\n\r\n")), 422)
      << "once is enough";
  ASSERT_EQ(status_of(rig.ask(form({{"slot", "", "2"}, {"outcome", "", "spoiled"}}, "/loads/1/outcome"))), 200);
  const std::vector<Piece> waiting = rig.book.waiting(1, 10);
  ASSERT_EQ(waiting.size(), 2U);
  EXPECT_EQ(waiting[0].text, "Bo") << "the spoiled one comes back, first";
  EXPECT_EQ(waiting[1].text, "Marr");
  EXPECT_EQ(status_of(rig.ask(form({{"photo", "again.jpg", demo_photo()}}, "/photos"))), 422)
      << "the photo of a load that was burned";
  ASSERT_EQ(status_of(rig.ask(form({{"photo", "b.jpg", demo_photo("photo-2.jpg")}}, "/photos"))), 201);
  const std::optional<BookLoad> second = rig.book.last_load();
  std::vector<std::string> given;
  int placed = 0;
  for (const BookSlot& slot : second->slots) {
    if (slot.piece) given.push_back(slot.text);
    placed += slot.ready ? 1 : 0;
  }
  EXPECT_THAT(given, testing::ElementsAre("Bo", "Marr"));
  EXPECT_THAT(rig.ask(get("/batches/1/list")), HasSubstr("<td>Marr</td><td>to do</td>"));
  EXPECT_THAT(rig.ask(get("/book.csv")), HasSubstr(",Bo,spoiled\r\n"));
}

TEST(BenchSite, ReadsNamesAsLinesOrAsATable) {
  EXPECT_THAT(read_piece_names("Ona\n\n  Bo Upper \r\nYg"), testing::ElementsAre("Ona", "Bo Upper", "Yg"));
  EXPECT_THAT(read_piece_names("nr;text\n1;\"Ona; the first\"\n2;Bo\n"), testing::ElementsAre("Ona; the first", "Bo"));
  EXPECT_THROW((void)read_piece_names("nr,name\n1,Ona\n"), InputError);
  EXPECT_THROW((void)read_piece_names("\n \n"), InputError);
  EXPECT_THROW((void)read_piece_names("On\xFFn"), InputError);
}

}  // namespace
}  // namespace jigtrue::test
