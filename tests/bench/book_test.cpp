// The book keeps what it was told, whoever dies when, and says what it cannot do.
#include "jigtrue/bench/book.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/history/load_record.hpp"
#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <array>
#include <csignal>
#include <cstdlib>
#include <fstream>
#include <random>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

using testing::HasSubstr;

constexpr const char* kNow = "2024-05-01T12:00:00Z";

BookLoad plain_load(const Book& book, int slots) {
  BookLoad load;
  load.time = kNow;
  load.photo = "load.jpg";
  load.digest = "d";
  load.fixture = "pens";
  load.record = "{}";
  const std::optional<Batch> batch = book.current_batch();
  std::vector<Piece> waiting;
  if (batch) {
    load.batch = batch->id;
    waiting = book.waiting(batch->id, static_cast<std::size_t>(slots));
  }
  for (int i = 0; i < slots; ++i) {
    BookSlot slot;
    slot.id = std::to_string(i + 1);
    slot.standing = "ready";
    slot.ready = true;
    slot.across_mm = 0.25 * i;
    if (static_cast<std::size_t>(i) < waiting.size()) slot.piece = waiting[static_cast<std::size_t>(i)].number;
    load.slots.push_back(slot);
  }
  return load;
}

const std::vector<FileContent>& five_files() {
  static const std::vector<FileContent> files = {{"report.json", std::string(3000, 'r')},
                                                 {"offsets.csv", std::string(300, 'o')},
                                                 {"layout.svg", std::string(2000, 'l')},
                                                 {"annotated.jpg", std::string(50000, 'a')},
                                                 {"report.html", std::string(60000, 'h')}};
  return files;
}

void put_whole(const std::filesystem::path& file, const std::string& text) {
  std::ofstream(file, std::ios::binary) << text;
}

TEST(Book, CountsPiecesOnlyWhenTheyAreBurned) {
  Book book({});
  book.add_batch("May", kNow, {"Ona", "Bo", "Yg"});
  const std::int64_t first = book.add_load(plain_load(book, 2), five_files());
  const std::int64_t second = book.add_load(plain_load(book, 2), five_files());
  EXPECT_TRUE(book.load(first)->replaced);
  EXPECT_EQ(book.load(second)->slots[0].text, "Ona") << "promised anew: the first photo burned nothing";
  EXPECT_THROW(book.burn(first, kNow), InputError) << "a later photo took its place";
  book.burn(second, kNow);
  EXPECT_THROW(book.burn(second, kNow), InputError);
  EXPECT_EQ(book.current_batch()->left(), 1);
  book.set_outcome(second, "1", "spoiled");
  EXPECT_EQ(book.current_batch()->left(), 2);
  EXPECT_EQ(book.current_batch()->spoiled, 1);
  const std::int64_t third = book.add_load(plain_load(book, 2), five_files());
  EXPECT_EQ(book.load(third)->slots[0].text, "Ona");
  EXPECT_EQ(book.load(third)->slots[1].text, "Yg");
  book.burn(third, kNow);
  EXPECT_EQ(book.current_batch()->left(), 0);
  EXPECT_THROW(book.set_outcome(second, "1", "burned"), InputError) << "Ona would be burned twice";
  EXPECT_THROW(book.set_outcome(second, "9", "again"), InputError);
  EXPECT_THROW(book.set_outcome(second, "1", "lost"), InputError);
  EXPECT_EQ(book.file(third, "layout.svg"), std::string(2000, 'l'));
  EXPECT_EQ(book.file(third, "../layout.svg"), std::nullopt);
}

// A piece is served by another pass while its blank lies there, or by the batch: never by both.
TEST(Book, HoldsABareBlanksPieceForAnotherPassUntilTheJigIsLoadedAnew) {
  Book book({});
  book.add_batch("May", kNow, {"Ona", "Bo", "Yg", "Zed"});
  book.burn(book.add_load(plain_load(book, 4), five_files()), kNow);
  book.add_inspection(1, {}, {{"1", "burned"}, {"2", "pass"}, {"3", "pass"}, {"4", "spoiled"}});
  EXPECT_EQ(book.current_batch()->left(), 3) << "what is bare is not done";
  book.set_outcome(1, "3", "again");
  book.burn(1, kNow);  // the other pass
  EXPECT_EQ(book.load(1)->slots[1].outcome, "burned");
  EXPECT_EQ(book.waiting(1, 9).size(), 2U);
  EXPECT_THROW(book.burn(1, kNow), InputError) << "nothing is left to burn";
  book.add_inspection(1, {}, {{"2", "pass"}});  // and still bare
  const std::int64_t next = book.add_load(plain_load(book, 3), five_files());
  EXPECT_EQ(book.load(1)->slots[1].outcome, "again");
  EXPECT_EQ(book.load(next)->slots[0].text, "Bo");
  book.burn(next, kNow);
  EXPECT_EQ(book.current_batch()->left(), 0);
  book.add_inspection(1, {}, {{"2", "burned"}});
  EXPECT_EQ(book.load(1)->slots[1].outcome, "again") << "its piece was served by the batch";
}

TEST(Book, GivesPiecesBackThatCarryNoMark) {
  Book book({});
  book.add_batch("May", kNow, {"Ona", "Bo", "Yg"});
  book.burn(book.add_load(plain_load(book, 4), five_files()), kNow);
  book.set_outcome(1, "3", "spoiled");
  book.add_inspection(1, {{"inspection.json", "first"}},
                      {{"2", "again"}, {"3", "again"}, {"4", "again"}, {"9", "again"}});
  EXPECT_EQ(book.current_batch()->left(), 2) << "one is spoiled already, and one is none";
  EXPECT_EQ(book.load(1)->slots[1].outcome, "again");
  EXPECT_EQ(book.load(1)->slots[2].outcome, "spoiled");
  EXPECT_EQ(book.waiting(1, 9).front().text, "Bo");
  book.add_inspection(1, {{"inspection.json", "second"}}, {});
  EXPECT_EQ(book.file(1, "inspection.json"), "second") << "the last look counts";
}

TEST(Book, TellsThePaceOfTheBatch) {
  Book book({});
  book.add_batch("May", "2024-05-01T12:00:00Z", std::vector<std::string>(20, ""));
  EXPECT_EQ(book.current_batch()->piece_s, std::nullopt);
  const auto burn = [&](int pieces, const std::string& time) {
    book.burn(book.add_load(plain_load(book, pieces), {}), time);
    return book.current_batch()->piece_s.value_or(0.0);
  };
  EXPECT_NEAR(burn(4, "2024-05-01T12:04:00Z"), 60.0, 0.01) << "since the batch was begun";
  burn(5, "2024-05-01T12:06:00Z");
  EXPECT_NEAR(burn(5, "2024-05-01T12:08:30Z"), 30.0, 0.01) << "the middle one of 60, 24 and 30 s";
  EXPECT_NEAR(burn(1, "2024-05-01T14:00:00Z"), 30.0, 0.01) << "lunch is no work";
}

TEST(Book, GoesOnWithTheBatchThatIsChosen) {
  Book book({});
  EXPECT_FALSE(book.current_batch());
  const std::int64_t may = book.add_batch("May", kNow, {"Ona", "Bo"});
  const std::int64_t june = book.add_batch("June", kNow, {"", "", ""});
  EXPECT_EQ(book.current_batch()->id, june);
  ASSERT_EQ(book.unfinished_batches().size(), 1U);
  book.choose_batch(may);
  EXPECT_EQ(book.current_batch()->name, "May");
  EXPECT_EQ(book.unfinished_batches().front().id, june);
  book.choose_batch(std::nullopt);
  EXPECT_FALSE(book.current_batch());
  EXPECT_THROW(book.choose_batch(7), InputError);
  EXPECT_EQ(book.unfinished_batches().size(), 2U);
}

TEST(Book, IsExportedAndReadByTrend) {
  const TemporaryFolder folder;
  const std::filesystem::path file = folder / "shop.book";
  {
    Book book(file);
    book.add_batch("Quotes, \"and\" commas", kNow, {"Upper \"L\", the 2nd"});
    BookLoad load = plain_load(book, 1);
    LoadRecord record;
    record.time = kNow;
    record.fixture = "pens";
    load.record = record_line(record);
    book.add_load(load, {});
    EXPECT_THAT(book.csv(), HasSubstr(",1,\"Upper \"\"L\"\", the 2nd\",\r\n"));
    const nlohmann::json exported = nlohmann::json::parse(book.json());
    EXPECT_EQ(exported["schema"], "jigtrue.book/1");
    EXPECT_EQ(exported["batches"][0]["pieces"][0]["text"], "Upper \"L\", the 2nd");
    EXPECT_EQ(exported["loads"][0]["slots"][0]["across_mm"], 0.0);
    EXPECT_EQ(book_records(file), load.record + "\n") << "read while the bench still writes it";
  }
  EXPECT_TRUE(is_book(file));
  EXPECT_EQ(read_records(book_records(file)).loads.size(), 1U);
}

// Photos that were taken until all was ready are one load, unless nobody ever says that one was burned.
TEST(Book, TellsTrendOfEachLoadOnce) {
  const TemporaryFolder folder;
  const std::filesystem::path file = folder / "shop.book";
  Book book(file);
  const auto add = [&](const std::string& record) {
    BookLoad load = plain_load(book, 1);
    load.record = record;
    return book.add_load(load, {});
  };
  add("first try");
  add("second try");
  EXPECT_EQ(book_records(file), "first try\nsecond try\n");
  book.burn(2, kNow);
  add("third");
  add("fourth");
  EXPECT_EQ(book_records(file), "second try\nfourth\n");
  const std::vector<BookLoad> standing = book.last_standing_loads(9);
  ASSERT_EQ(standing.size(), 2U);
  EXPECT_EQ(standing[0].id, 4);
  EXPECT_EQ(standing[1].id, 2);
}

TEST(Book, RefusesWhatIsNoneInOneLine) {
  const TemporaryFolder folder;
  put_whole(folder / "text", "load,slot\n1,2\n");
  EXPECT_THAT(input_error_text([&] { Book book(folder / "text"); }), HasSubstr("is no book"));
  EXPECT_THAT(input_error_text([&] { Book book(folder / "no/such/folder/shop.book"); }), HasSubstr("its folder"));
  EXPECT_THAT(input_error_text([&] { Book book(folder.path()); }), HasSubstr(folder.path().string()));
  { Book book(folder / "kept"); }
  std::string bytes = read_text_file(folder / "kept");
  std::string later = bytes;
  later[63] = 7;  // user_version, big-endian at 60 (SQLite's file format, 1.3)
  put_whole(folder / "later", later);
  EXPECT_THAT(input_error_text([&] { Book book(folder / "later"); }), HasSubstr("written by a later version"));
  EXPECT_THAT(input_error_text([&] { (void)book_records(folder / "later"); }), HasSubstr("written by a later version"));
  std::string other = bytes;
  other[68] = 1;  // application_id
  put_whole(folder / "other", other);
  EXPECT_THAT(input_error_text([&] { Book book(folder / "other"); }), HasSubstr("no book of jigtrue"));
}

TEST(Book, BelongsToOneBenchAtATime) {
  const TemporaryFolder folder;
  {
    Book first(folder / "shop.book");
    EXPECT_THAT(input_error_text([&] { Book second(folder / "shop.book"); }),
                HasSubstr("another bench keeps this book; use"));
    first.kept_at("http://127.0.0.1:8087/");
    EXPECT_THAT(input_error_text([&] { Book second(folder / "shop.book"); }),
                HasSubstr("another bench keeps this book (http://127.0.0.1:8087/)"));
    first.add_load(plain_load(first, 1), five_files());
  }
  const Book next(folder / "shop.book");
  EXPECT_EQ(next.last_load()->photo, "load.jpg") << "the first one has ended, and was not harmed";
}

// A child of this process; its exit status, or -1 when it was killed.
template <class Work>
pid_t child(const Work& work) {
  const pid_t id = ::fork();
  if (id != 0) return id;
  ::_exit(work());
}

TEST(Book, TellsThatItCannotGrowAndStaysWhole) {
  const TemporaryFolder folder;
  const std::filesystem::path file = folder / "shop.book";
  const pid_t id = child([&] {
    ::signal(SIGXFSZ, SIG_IGN);
    Book book(file);
    book.add_batch("", kNow, {"Ona", "Bo"});
    const rlimit most{300000, 300000};
    ::setrlimit(RLIMIT_FSIZE, &most);
    for (int i = 0; i < 100; ++i) {
      try {
        book.add_load(plain_load(book, 2), five_files());
      } catch (const InputError& error) {
        const std::string text = error.what();
        return text.find("shop.book") != std::string::npos && text.find("disk") != std::string::npos && i > 0 ? i : 101;
      }
    }
    return 100;
  });
  int status = 0;
  ASSERT_EQ(::waitpid(id, &status, 0), id);
  ASSERT_TRUE(WIFEXITED(status));
  const int kept = WEXITSTATUS(status);
  ASSERT_LT(kept, 100);
  const Book book(file);
  EXPECT_EQ(book.last_load()->id, kept) << "those that were said to be kept, and no half one";
  for (const FileContent& one : five_files()) EXPECT_EQ(book.file(kept, one.path.string()), one.bytes);
}

// Loads written, burned and marked while the process is killed at random moments: what was acknowledged is there,
// whole, and no piece is done twice. 50 times over in one book.
TEST(Book, LosesNothingWhenItsProcessIsKilled) {
  const TemporaryFolder folder;
  const std::filesystem::path file = folder / "shop.book";
  {
    Book book(file);
    book.add_batch("", kNow, std::vector<std::string>(2000, "Ona"));
  }
  std::mt19937 random(1);
  std::int64_t acknowledged = 0;
  std::int64_t burned_in_all = 0;
  for (int round = 0; round < 50; ++round) {
    std::array<int, 2> pipe{};
    ASSERT_EQ(::pipe(pipe.data()), 0);
    const pid_t id = child([&] {
      ::close(pipe[0]);
      Book book(file);
      for (;;) {
        const std::int64_t load = book.add_load(plain_load(book, 3), five_files());
        if (::write(pipe[1], &load, sizeof load) != sizeof load) return 1;
        book.burn(load, kNow);
        const std::int64_t burned = -load;
        if (::write(pipe[1], &burned, sizeof burned) != sizeof burned) return 1;
        book.set_outcome(load, "2", "spoiled");
      }
    });
    ::close(pipe[1]);
    std::int64_t said = 0;
    std::int64_t burned = 0;
    // every other time not before it has burned a load, however slow the machine is
    while (round % 2 == 0 && said >= 0 && ::read(pipe[0], &said, sizeof said) == sizeof said)
      said > 0 ? acknowledged = said : burned = -said;
    ::usleep(std::uniform_int_distribution<useconds_t>(0, 40000)(random));
    ::kill(id, SIGKILL);
    ::waitpid(id, nullptr, 0);
    while (::read(pipe[0], &said, sizeof said) == sizeof said) said > 0 ? acknowledged = said : burned = -said;
    ::close(pipe[0]);
    const Book book(file);
    const std::optional<BookLoad> last = book.last_load();
    if (!last) continue;
    ASSERT_GE(last->id, acknowledged);
    ASSERT_LE(last->id, acknowledged + 1) << "at most the one that was being told";
    acknowledged = last->id;
    ASSERT_EQ(last->slots.size(), 3U);
    for (const FileContent& one : five_files()) ASSERT_EQ(book.file(last->id, one.path.string()), one.bytes);
    if (burned != 0) {
      ASSERT_FALSE(book.load(burned)->burned.empty());
    }
    burned_in_all = std::max(burned_in_all, burned);
    const std::optional<Batch> batch = book.current_batch();
    std::int64_t done = 0;
    for (const Piece& piece : book.pieces(batch->id)) done += piece.done ? 1 : 0;
    ASSERT_EQ(done, batch->done) << "each piece is done once or not at all";
  }
  EXPECT_GE(burned_in_all, 25) << "one in each of those rounds";
}

}  // namespace
}  // namespace jigtrue::test
