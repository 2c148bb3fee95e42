// Photos in, pages and files out, as a browser would ask for them.
#include "jigtrue/bench/bench_site.hpp"

#include "jigtrue/bench/own_addresses.hpp"
#include "jigtrue/image/write_picture.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <regex>
#include <sstream>
#include <thread>

#include "bench/bench_rig.hpp"
#include "bench/client.hpp"
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

using testing::HasSubstr;
using testing::Not;

TEST(BenchSite, ChecksAPhotoAndServesItsFiveFiles) {
  BenchRig rig;
  const std::string made = rig.ask(form({{"photo", "../../etc/load.jpg", demo_photo()}}, "/photos"));
  ASSERT_EQ(status_of(made), 201) << made;
  EXPECT_THAT(made, HasSubstr("Location: /loads/1\r\n"));
  for (const char* name :
       {"report.json", "offsets.csv", "layout.svg", "annotated.jpg", "report.html", "layout.dxf", "closeup.jpg"}) {
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
  ASSERT_EQ(status_of(rig.ask(form({{"photo", "cat.jpg", "not a photo"}}, "/photos"))), 422);
  const std::string refused = body_of(rig.ask(get("/")));
  EXPECT_THAT(refused, HasSubstr("<h1>Photo not used</h1>"));
  EXPECT_THAT(refused, HasSubstr("data-post=\"/loads/1/burned\"")) << "it may be burning meanwhile";
  EXPECT_THAT(refused, Not(HasSubstr("layout.svg"))) << "nothing to engrave beside a photo that was refused";
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
    EXPECT_EQ(rig.desk.setup().fixture_called(name), 0U) << name;
}

TEST(BenchSite, AnswersNothingThatIsNotItsOwn) {
  BenchRig rig;
  for (const char* path :
       {"/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/loads/1/../../book", "/loads/..%2f..%2fx",
        "/loads/1/%2e%2e/report.json", "/loads/-1/report.json", "/loads/99999999999999999999/", "/loads/1/moved.jpg",
        "/batches/1/list", "/etc/passwd", "//", "/shop.book", "/loads//", "/loads"})
    EXPECT_EQ(status_of(rig.ask(get(path))), 404) << path;
}

DeskSetup named_desk(std::size_t slots = 6) {
  DeskSetup setup = demo_desk(slots);
  const std::string drawing = project_file("fixtures/demo/pens/name.svg").string();
  const Artwork artwork = read_artwork(read_svg_file(drawing), drawing);
  DesignOffer design;
  design.file = drawing;
  design.passes = *common_art(artwork).common;
  design.size_mm = artwork.ink.size();
  setup.designs.push_back(std::move(design));
  return setup;
}

TEST(BenchSite, GivesNamesToReadyBlanksUntilAllAreDone) {
  BenchRig rig(named_desk());
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
  EXPECT_EQ(placed, 2) << "blanks beyond the batch are left out";
  EXPECT_EQ(rig.desk.state().cautions.front(),
            "The layout holds no names: start the bench with --font FILE to have them set.");
  EXPECT_THAT(rig.ask(get("/batches/1/list")), HasSubstr("<td>Marr</td><td>to do</td>"));
  EXPECT_THAT(rig.ask(get("/book.csv")), HasSubstr(",Bo,spoiled\r\n"));
}

// EXIF 2.3 with one photo directory: focal length, digital zoom, time; little-endian.
std::string with_exif(const std::string& jpeg, unsigned focal_mm, unsigned zoom_tenths, const std::string& taken) {
  const auto two = [](unsigned v) { return std::string{static_cast<char>(v & 255), static_cast<char>(v >> 8)}; };
  const auto four = [&](unsigned v) { return two(v & 65535) + two(v >> 16); };
  const auto entry = [&](unsigned tag, unsigned type, unsigned count, unsigned value) {
    return two(tag) + two(type) + four(count) + four(value);
  };
  const unsigned photo_at = 8 + 2 + 12 + 4;
  const unsigned data_at = photo_at + 2 + 3 * 12 + 4;
  const std::string block = std::string("II*\0", 4) + four(8) + two(1) + entry(0x8769, 4, 1, photo_at) + four(0) +
                            two(3) + entry(0x9003, 2, 20, data_at + 16) + entry(0x920A, 5, 1, data_at) +
                            entry(0xA404, 5, 1, data_at + 8) + four(0) + four(focal_mm) + four(1) + four(zoom_tenths) +
                            four(10) + taken + std::string(1, '\0');
  const std::string segment = std::string("Exif\0\0", 6) + block;
  const unsigned length = static_cast<unsigned>(segment.size()) + 2;
  return jpeg.substr(0, 2) + "\xFF\xE1" + static_cast<char>(length >> 8) + static_cast<char>(length & 255) + segment +
         jpeg.substr(2);
}

TEST(BenchSite, WarnsOfPhotosThatAreZoomedOldOrOfALoadThatWasBurned) {
  BenchRig rig(demo_desk(1));
  const auto send = [&](const std::string& bytes) {
    EXPECT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", bytes}}, "/photos"))), 201);
    std::string all;
    for (const std::string& caution : rig.desk.state().cautions) all += caution + "\n";
    return all;
  };
  const std::string photo = demo_photo();
  const std::string fresh = "2024:05:01 12:00:00";
  EXPECT_THAT(send(with_exif(photo, 5, 10, fresh)), Not(HasSubstr("clock")));
  const std::string other = send(with_exif(photo, 9, 20, "2024:04:28 12:00:00"));
  EXPECT_THAT(other, HasSubstr("zoomed 2.0 times"));
  EXPECT_THAT(other, HasSubstr("taken at 9.0 mm, the first one of this bench at 5.0 mm"));
  EXPECT_THAT(other, HasSubstr("taken 3 days ago"));
  EXPECT_THAT(rig.ask(get("/")), HasSubstr("caution\">The photo was zoomed"));
}

// Where the lens file says what its photos were taken at, a photo taken otherwise is refused: every place would be
// wrong by that ratio. The bed's marks, where they lie as they did, know better.
TEST(BenchSite, RefusesAPhotoOfAnotherFocalLengthThanTheLens) {
  DeskSetup setup = demo_desk(1);
  std::get<CameraRecord>(setup.camera).lens.focal_mm = 5.0;
  const auto status = [](BenchRig& rig, unsigned focal_mm, unsigned zoom_tenths) {
    return status_of(rig.ask(
        form({{"photo", "a.jpg", with_exif(demo_photo(), focal_mm, zoom_tenths, "2024:05:01 12:00:00")}}, "/photos")));
  };
  BenchRig marked(setup);
  EXPECT_EQ(status(marked, 9, 10), 201);
  std::get<CameraRecord>(setup.camera).witness.clear();
  BenchRig rig(setup);
  EXPECT_EQ(status(rig, 5, 10), 201);
  EXPECT_EQ(status(rig, 9, 10), 422);
  EXPECT_THAT(rig.desk.state().refusal->text, HasSubstr("taken at 9.0 mm, zoom included, the lens's at 5.0 mm"));
  EXPECT_EQ(status(rig, 5, 20), 422) << "digital zoom does the same";
}

// A photo of a load that was burned is told, however it was saved on its way; so is one that was sent twice.
TEST(BenchSite, TellsAPhotoThatCameBefore) {
  BenchRig rig(demo_desk(2));
  const auto cautions_on = [&](const std::string& bytes) {
    EXPECT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", bytes}}, "/photos"))), 201);
    std::string all;
    for (const std::string& caution : rig.desk.state().cautions) all += caution + "\n";
    return all;
  };
  const std::string photo = demo_photo();
  EXPECT_THAT(cautions_on(photo), Not(HasSubstr("sent again")));
  EXPECT_THAT(cautions_on(photo), HasSubstr("This is the very picture of load 1, sent again"));
  rig.desk.burned(2);
  const auto* bytes = reinterpret_cast<const unsigned char*>(photo.data());
  const Photo read = read_photo(EncodedPhoto{"photo.jpg", {bytes, photo.size()}});
  for (const int quality : {90, 60})
    EXPECT_THAT(cautions_on(encode_jpeg(shrink(read, 10000).bgr, quality)),
                HasSubstr("The blanks lie where they lay in load 2, which was burned already"))
        << quality;
  EXPECT_THAT(cautions_on(demo_photo("photo-2.jpg")), Not(HasSubstr("burned already"))) << "another load";
}

// The closing of the round: what lies there after burning. Where a blank carries no mark for sure its piece goes back;
// at the demo's few pixels one could hide in the wood, which is doubtful.
TEST(BenchSite, LooksAtWhatWasBurned) {
  BenchRig rig(named_desk(2));
  rig.desk.begin_batch("May", {"Ona"});
  const std::string photo = demo_photo();
  ASSERT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", photo}}, "/photos"))), 201);
  EXPECT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", photo}}, "/loads/1/inspection"))), 422) << "not burned yet";
  rig.desk.burned(1);
  EXPECT_EQ(rig.book.current_batch()->left(), 0);
  EXPECT_THAT(rig.ask(get("/")), HasSubstr("data-burned=\"1\""));
  EXPECT_EQ(status_of(rig.ask(get("/loads/1/inspection.html"))), 404);
  EXPECT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", photo}}, "/loads/1/inspection"))), 422)
      << "it is the photo from before";
  EXPECT_THAT(rig.ask(get("/")), HasSubstr("data-pick=\"burned-photo\"")) << "and a better one may be taken";
  EXPECT_EQ(status_of(rig.ask(form({}, "/loads/1/inspection"))), 400) << "no photo, and no camera";
  const auto* bytes = reinterpret_cast<const unsigned char*>(photo.data());
  const Photo read = read_photo(EncodedPhoto{"photo.jpg", {bytes, photo.size()}});
  const std::string later = encode_jpeg(shrink(read, 10000).bgr, 95);
  ASSERT_EQ(status_of(rig.ask(form({{"photo", "b.jpg", later}}, "/loads/1/inspection"))), 201);
  const nlohmann::json seen = nlohmann::json::parse(body_of(rig.ask(get("/loads/1/inspection.json"))));
  const std::string state = seen["slots"][0]["state"];
  EXPECT_NE(state, "marked") << "it never was";
  EXPECT_EQ(rig.book.current_batch()->left(), state == "unmarked" ? 1 : 0);
  const std::string page = rig.ask(get("/"));
  EXPECT_THAT(page, HasSubstr("carry their mark"));
  EXPECT_THAT(page, HasSubstr("<div class=\"quiet\">" + state));
  EXPECT_EQ(status_of(rig.ask(get("/loads/1/inspection.html"))), 200);
}

TEST(BenchSite, ShowsPhonesHowToGetThere) {
  BenchRig rig;
  EXPECT_THAT(rig.ask(get("/")), Not(HasSubstr("class=\"qr\"")));
  const std::string address = "http://192.168.1.20:8087/?token=0123456789abcdef0123456789abcdef";
  rig.site.offer_to_phones(address);
  const std::string page = rig.ask(get("/"));
  EXPECT_THAT(page, HasSubstr("class=\"address\">" + address));
  // the terminal's code has the same modules: full blocks two, halves one
  const auto count = [](const std::string& text, const std::string& word) {
    std::size_t n = 0;
    for (std::size_t at = text.find(word); at != std::string::npos; at = text.find(word, at + 1)) ++n;
    return n;
  };
  const std::string lines = qr_text(address);
  EXPECT_EQ(count(page, "h1v1h-1z"),
            2 * count(lines, "\xE2\x96\x88") + count(lines, "\xE2\x96\x80") + count(lines, "\xE2\x96\x84"));
  EXPECT_GT(count(page, "h1v1h-1z"), 300U);
}

// Photos are judged in the order in which they came, however many wait.
TEST(BenchSite, PassesNoPhotoOver) {
  BenchRig rig(demo_desk(1));
  std::vector<std::thread> phones;
  phones.reserve(8);
  for (int phone = 0; phone < 8; ++phone)
    phones.emplace_back([&] {
      for (int i = 0; i < 25; ++i) EXPECT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", "none"}}, "/photos"))), 422);
    });
  for (std::thread& phone : phones) phone.join();
  EXPECT_EQ(rig.desk.state().waiting, 0);
  EXPECT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", demo_photo()}}, "/photos"))), 201);
}

// As soon as a photo is judged, every page that is open is told.
TEST(BenchSite, TellsPagesByServerSentEvents) {
  BenchRig rig;
  const int port = rig.server.bind("127.0.0.1", 0);
  rig.rules.hosts.insert("127.0.0.1:" + std::to_string(port));
  std::thread serving([&] { rig.server.run(); });
  Client page(port, get("/events", "127.0.0.1:" + std::to_string(port)));
  const std::string opened = page.answer(30.0, "data: ");
  EXPECT_THAT(opened, HasSubstr("Content-Type: text/event-stream"));
  EXPECT_THAT(opened, HasSubstr("event: change\n"));
  rig.desk.refuse("a.jpg", "too dark");
  EXPECT_THAT(page.answer(30.0, "data: "), HasSubstr("event: change\n"));
  rig.site.close();
  EXPECT_THAT(page.answer(30.0), testing::EndsWith("0\r\n\r\n")) << "the stream ends with the bench";
  rig.server.stop();
  serving.join();
}

// One size for all loads of a batch: as tall as its longest name allows, whether or not that one is among these.
TEST(BenchSite, SetsNamesAsTallAsTheLongestAllows) {
  const char* font = "/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf";
  if (!std::filesystem::exists(font)) GTEST_SKIP() << "no font is installed";
  DeskSetup setup = demo_desk();
  setup.font = std::make_shared<const OutlineFont>(read_text_file(font), font);
  BenchRig rig(std::move(setup));
  const std::string longest = "Upper Lissel on the Long Water, by the mill";
  rig.desk.begin_batch("May", {"Ona", "Bo", "Yg", "Ulm", "Tiv", longest});
  ASSERT_EQ(status_of(rig.ask(form({{"photo", "a.jpg", demo_photo()}}, "/photos"))), 201);
  const std::string layout = body_of(rig.ask(get("/loads/1/layout.svg")));
  std::size_t groups = 0;
  double highest_mm = 0.0;
  for (std::size_t at = layout.find("data-pass=\"names\""); at != std::string::npos;
       at = layout.find("data-pass=\"names\"", at + 1)) {
    ++groups;
    // a path's points are "x y" behind M, L and C; the letters' reach across is twice the largest |y|
    const std::size_t path = layout.find(" d=\"", at) + 4;
    std::istringstream points(
        std::regex_replace(layout.substr(path, layout.find('"', path) - path), std::regex("[MLCZ]"), " "));
    for (double x = 0.0, y = 0.0; points >> x >> y;) highest_mm = std::max(highest_mm, std::abs(y));
  }
  EXPECT_EQ(groups, 5U) << "slot 5 is empty, and the longest name waits";
  // 43 letters in 60 mm: about 0.5 to 0.6 of the height each, so some 2.5 mm, not the 4.5 that "Ona" alone would take
  EXPECT_GT(2.0 * highest_mm, 1.5);
  EXPECT_LT(2.0 * highest_mm, 3.5);
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
