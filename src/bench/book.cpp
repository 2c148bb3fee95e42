#include "jigtrue/bench/book.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/median.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <fstream>
#include <sys/file.h>
#include <unistd.h>

#include "bench/descriptor.hpp"
#include "bench/sqlite.hpp"
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

constexpr std::int64_t kApplication = 0x4a54524b;  // in the file's head: a book of ours
constexpr std::int64_t kVersion = 1;
constexpr std::int64_t kLoadsWithFiles = 1000;  // older loads keep their numbers; their files go

// A piece is done when some slot burned it, and no piece can be burned twice: the index sees to that.
constexpr const char* kSchema = R"sql(
CREATE TABLE batches (
  id INTEGER PRIMARY KEY, name TEXT NOT NULL, time TEXT NOT NULL, named INTEGER NOT NULL,
  current INTEGER NOT NULL DEFAULT 0) STRICT;
CREATE UNIQUE INDEX one_current ON batches (current) WHERE current = 1;
CREATE TABLE pieces (
  id INTEGER PRIMARY KEY, batch INTEGER NOT NULL REFERENCES batches, number INTEGER NOT NULL, text TEXT NOT NULL,
  UNIQUE (batch, number)) STRICT;
CREATE TABLE loads (
  id INTEGER PRIMARY KEY AUTOINCREMENT, time TEXT NOT NULL, photo TEXT NOT NULL, digest TEXT NOT NULL,
  fixture TEXT NOT NULL, design TEXT NOT NULL, headline TEXT NOT NULL, record TEXT NOT NULL,
  batch INTEGER REFERENCES batches, run_s REAL, burned TEXT, replaced INTEGER NOT NULL DEFAULT 0) STRICT;
CREATE INDEX loads_by_digest ON loads (digest);
CREATE TABLE slots (
  load INTEGER NOT NULL REFERENCES loads, position INTEGER NOT NULL, slot TEXT NOT NULL, standing TEXT NOT NULL,
  ready INTEGER NOT NULL, finding TEXT NOT NULL, action TEXT NOT NULL, along_mm REAL, across_mm REAL, rotation_deg REAL,
  u_along_mm REAL, u_across_mm REAL, u_rotation_deg REAL, piece INTEGER REFERENCES pieces, outcome TEXT,
  PRIMARY KEY (load, position), UNIQUE (load, slot)) STRICT;
CREATE UNIQUE INDEX burned_once ON slots (piece) WHERE outcome = 'burned';
CREATE TABLE files (
  load INTEGER NOT NULL REFERENCES loads, name TEXT NOT NULL, bytes BLOB NOT NULL, PRIMARY KEY (load, name)) STRICT;
)sql";

constexpr const char* kLoadColumns =
    "SELECT id, time, photo, digest, fixture, design, headline, record, batch, run_s, burned, replaced FROM loads ";

BookLoad load_of(const Statement& row) {
  BookLoad load;
  load.id = row.whole(0);
  load.time = row.text(1);
  load.photo = row.text(2);
  load.digest = row.text(3);
  load.fixture = row.text(4);
  load.design = row.text(5);
  load.headline = row.text(6);
  load.record = row.text(7);
  load.batch = row.maybe_whole(8);
  load.run_s = row.maybe_number(9);
  load.burned = row.text(10);
  load.replaced = row.whole(11) != 0;
  return load;
}

std::vector<BookLoad> loads_of(const Database& database, const char* which, int count) {
  Statement rows(database, (std::string(kLoadColumns) + which + "ORDER BY id DESC LIMIT ?").c_str());
  rows.with(count);
  std::vector<BookLoad> loads;
  while (rows.next()) loads.push_back(load_of(rows));
  return loads;
}

std::vector<BookSlot> slots_of(const Database& database, std::int64_t load) {
  Statement rows(database,
                 "SELECT slot, standing, ready, finding, action, along_mm, across_mm, rotation_deg, u_along_mm, "
                 "u_across_mm, u_rotation_deg, pieces.number, pieces.text, outcome FROM slots LEFT JOIN pieces ON "
                 "pieces.id = slots.piece WHERE load = ? ORDER BY position");
  rows.with(load);
  std::vector<BookSlot> slots;
  while (rows.next()) {
    BookSlot slot;
    slot.id = rows.text(0);
    slot.standing = rows.text(1);
    slot.ready = rows.whole(2) != 0;
    slot.finding = rows.text(3);
    slot.action = rows.text(4);
    slot.along_mm = rows.maybe_number(5);
    slot.across_mm = rows.maybe_number(6);
    slot.rotation_deg = rows.maybe_number(7);
    slot.u_along_mm = rows.maybe_number(8);
    slot.u_across_mm = rows.maybe_number(9);
    slot.u_rotation_deg = rows.maybe_number(10);
    slot.piece = rows.maybe_whole(11);
    slot.text = rows.text(12);
    slot.outcome = rows.text(13);
    slots.push_back(std::move(slot));
  }
  return slots;
}

void add_slots(const Database& database, std::int64_t load, const BookLoad& from) {
  int position = 0;
  for (const BookSlot& slot : from.slots) {
    Statement add(database,
                  "INSERT INTO slots (load, position, slot, standing, ready, finding, action, along_mm, across_mm, "
                  "rotation_deg, u_along_mm, u_across_mm, u_rotation_deg, piece) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, "
                  "?, ?, ?, (SELECT id FROM pieces WHERE batch = ? AND number = ?))");
    add.with(load).with(position++).with(slot.id).with(slot.standing).with(slot.ready ? 1 : 0);
    add.with(slot.finding).with(slot.action).with(slot.along_mm).with(slot.across_mm).with(slot.rotation_deg);
    add.with(slot.u_along_mm).with(slot.u_across_mm).with(slot.u_rotation_deg).with(from.batch).with(slot.piece);
    add.run();
  }
}

void add_files(const Database& database, std::int64_t load, const std::vector<FileContent>& files) {
  for (const FileContent& file : files)
    Statement(database, "INSERT OR REPLACE INTO files (load, name, bytes) VALUES (?, ?, ?)")
        .with(load)
        .with(file.path.string())
        .with_bytes(file.bytes)
        .run();
}

// Median of the times between loads burned one after the other, by good piece; breaks of half an hour and more are
// none. A batch's first load counts from when the batch was begun.
std::optional<double> seconds_per_piece(const Database& database, std::int64_t batch) {
  Statement rows(database,
                 "SELECT (julianday(burned) - julianday(lag(burned, 1, (SELECT time FROM batches WHERE id = ?1)) OVER "
                 "(ORDER BY burned))) * 86400.0, (SELECT count(*) FROM slots WHERE slots.load = loads.id AND outcome = "
                 "'burned') FROM loads WHERE batch = ?1 AND burned IS NOT NULL ORDER BY burned");
  rows.with(batch);
  std::vector<double> seconds;
  while (rows.next()) {
    const std::optional<double> gap = rows.maybe_number(0);
    if (gap && *gap > 0.0 && *gap < 1800.0 && rows.whole(1) > 0)
      seconds.push_back(*gap / static_cast<double>(rows.whole(1)));
  }
  return median(std::move(seconds));
}

std::optional<Batch> batch_of(const Database& database, std::int64_t id) {
  Statement row(database, "SELECT id, name, time, named FROM batches WHERE id = ?");
  row.with(id);
  if (!row.next()) return std::nullopt;
  Batch batch;
  batch.id = row.whole(0);
  batch.name = row.text(1);
  batch.time = row.text(2);
  batch.named = row.whole(3) != 0;
  Statement counts(
      database,
      "SELECT (SELECT count(*) FROM pieces WHERE batch = ?1), (SELECT count(*) FROM slots JOIN pieces ON "
      "pieces.id = piece WHERE pieces.batch = ?1 AND outcome = 'burned'), (SELECT count(*) FROM slots JOIN "
      "loads ON loads.id = load WHERE loads.batch = ?1 AND outcome = 'spoiled')");
  counts.with(id);
  if (counts.next()) {
    batch.pieces = counts.whole(0);
    batch.done = counts.whole(1);
    batch.spoiled = counts.whole(2);
  }
  batch.piece_s = seconds_per_piece(database, id);
  return batch;
}

void check_version(const Database& database, const std::string& name) {
  const std::int64_t application = database.whole("PRAGMA application_id");
  const std::int64_t version = database.whole("PRAGMA user_version");
  if (application != kApplication)
    throw input_error(name, "is a database, but no book of jigtrue", "name another file, or one that is not there yet");
  if (version > kVersion)
    throw input_error(name,
                      "was written by a later version of jigtrue (book " + std::to_string(version) +
                          ", this one knows " + std::to_string(kVersion) + ")",
                      "use that version, or another book");
}

std::string number_cell(const std::optional<double>& value) { return value ? fixed_text(*value, 4) : std::string(); }

std::string csv_text(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? "\"\"" : std::string(1, c);
  return out + "\"";
}

nlohmann::ordered_json number_json(const std::optional<double>& value) {
  return value ? nlohmann::ordered_json(*value) : nlohmann::ordered_json();
}
nlohmann::ordered_json text_json(const std::string& text) { return valid_utf8(text); }

nlohmann::ordered_json slot_json(const BookSlot& slot) {
  return {{"id", text_json(slot.id)},
          {"standing", text_json(slot.standing)},
          {"ready", slot.ready},
          {"along_mm", number_json(slot.along_mm)},
          {"across_mm", number_json(slot.across_mm)},
          {"rotation_deg", number_json(slot.rotation_deg)},
          {"u95_along_mm", number_json(slot.u_along_mm)},
          {"u95_across_mm", number_json(slot.u_across_mm)},
          {"u95_rotation_deg", number_json(slot.u_rotation_deg)},
          {"piece", slot.piece ? nlohmann::ordered_json(*slot.piece) : nlohmann::ordered_json()},
          {"text", text_json(slot.text)},
          {"outcome", text_json(slot.outcome)}};
}

}  // namespace

// The file beside the book that its bench holds locked; the system lets go of it when the bench ends, however it ends.
struct Book::Lock {
  explicit Lock(const std::filesystem::path& book)
      : descriptor(::open((book.string() + ".lock").c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644)) {
    if (descriptor.get() < 0)
      throw input_error(book.string(), std::string("cannot be kept: ") + std::strerror(errno),
                        "look whether its folder is there and may be written");
    if (::flock(descriptor.get(), LOCK_EX | LOCK_NB) == 0) {
      tell("");
      return;
    }
    std::array<char, 200> where{};
    const ssize_t size = ::pread(descriptor.get(), where.data(), where.size(), 0);
    const std::string address = size > 0 ? ascii_text({where.data(), static_cast<std::size_t>(size)}) : std::string();
    throw input_error(book.string(), "another bench keeps this book" + (address.empty() ? "" : " (" + address + ")"),
                      "use its page, end it, or name another book");
  }
  // For people: a lock whose words could not be written holds as well.
  void tell(const std::string& address) const {
    if (::ftruncate(descriptor.get(), 0) == 0) (void)!::pwrite(descriptor.get(), address.data(), address.size(), 0);
  }
  bench::Descriptor descriptor;
};

Book::Book(const std::filesystem::path& file) {
  if (!file.empty()) lock_ = std::make_unique<Lock>(file);
  database_ = std::make_unique<Database>(file, Database::Use::read_and_write);
  const Database& database = *database_;
  const bool fresh = database.whole("SELECT count(*) FROM sqlite_schema") == 0;
  if (!fresh) check_version(database, file.string());
  database.run("PRAGMA foreign_keys = ON");
  if (!file.empty()) database.run("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL");
  if (!fresh) return;
  database.together([&] {
    database.run(kSchema);
    database.run(("PRAGMA application_id = " + std::to_string(kApplication)).c_str());
    database.run(("PRAGMA user_version = " + std::to_string(kVersion)).c_str());
  });
}
Book::~Book() = default;

void Book::kept_at(const std::string& page_address) const {
  if (lock_) lock_->tell(page_address);
}

std::int64_t Book::add_load(const BookLoad& load, const std::vector<FileContent>& files) {
  const std::lock_guard<std::mutex> guard(mutex_);
  std::int64_t id = 0;
  database_->together([&] {
    database_->run("UPDATE loads SET replaced = 1 WHERE burned IS NULL AND replaced = 0");
    database_->run("UPDATE slots SET outcome = 'again' WHERE outcome = 'pass'");
    Statement add(*database_,
                  "INSERT INTO loads (time, photo, digest, fixture, design, headline, record, batch, run_s) VALUES (?, "
                  "?, ?, ?, ?, ?, ?, ?, ?)");
    add.with(load.time).with(load.photo).with(load.digest).with(load.fixture).with(load.design);
    add.with(load.headline).with(load.record).with(load.batch).with(load.run_s).run();
    id = database_->last_id();
    add_slots(*database_, id, load);
    add_files(*database_, id, files);
    Statement(*database_, "DELETE FROM files WHERE load <= ?").with(id - kLoadsWithFiles).run();
  });
  return id;
}

std::optional<BookLoad> Book::load(std::int64_t id) const {
  const std::lock_guard<std::mutex> guard(mutex_);
  Statement row(*database_, (std::string(kLoadColumns) + "WHERE id = ?").c_str());
  row.with(id);
  if (!row.next()) return std::nullopt;
  BookLoad load = load_of(row);
  load.slots = slots_of(*database_, id);
  return load;
}

std::optional<BookLoad> Book::last_load() const {
  const std::vector<BookLoad> last = last_loads(1);
  return last.empty() ? std::nullopt : load(last.front().id);
}

std::vector<BookLoad> Book::last_loads(int count) const {
  const std::lock_guard<std::mutex> guard(mutex_);
  return loads_of(*database_, "", count);
}

std::vector<BookLoad> Book::last_standing_loads(int count) const {
  const std::lock_guard<std::mutex> guard(mutex_);
  return loads_of(*database_, "WHERE replaced = 0 ", count);
}

std::optional<std::string> Book::file(std::int64_t load, const std::string& name) const {
  const std::lock_guard<std::mutex> guard(mutex_);
  Statement row(*database_, "SELECT bytes FROM files WHERE load = ? AND name = ?");
  row.with(load).with(name);
  return row.next() ? std::optional(row.text(0)) : std::nullopt;
}

std::optional<Book::Seen> Book::seen(const std::string& digest) const {
  const std::lock_guard<std::mutex> guard(mutex_);
  Statement row(*database_,
                "SELECT id, burned IS NOT NULL FROM loads WHERE digest = ? ORDER BY 2 DESC, id DESC LIMIT 1");
  row.with(digest);
  return row.next() ? std::optional(Seen{row.whole(0), row.whole(1) != 0}) : std::nullopt;
}

void Book::burn(std::int64_t load, const std::string& time) {
  const std::lock_guard<std::mutex> guard(mutex_);
  const std::string where = "load " + std::to_string(load);
  database_->together([&] {
    Statement row(*database_, "SELECT burned IS NOT NULL, replaced FROM loads WHERE id = ?");
    row.with(load);
    if (!row.next()) throw input_error(where, "there is no such load", "look at the page anew");
    if (row.whole(0) != 0) {
      Statement(*database_, "UPDATE slots SET outcome = 'burned' WHERE load = ? AND outcome = 'pass'").with(load).run();
      if (database_->changes() > 0) return;
      throw input_error(where, "it is in the book as burned already", "take a photo of the next load");
    }
    if (row.whole(1) != 0) throw input_error(where, "a later photo has taken its place", "burn the last load");
    Statement(*database_, "UPDATE loads SET burned = ? WHERE id = ?").with(time).with(load).run();
    Statement(*database_, "UPDATE slots SET outcome = 'burned' WHERE load = ? AND ready = 1").with(load).run();
  });
}

void Book::set_outcome(std::int64_t load, const std::string& slot, const std::string& outcome) {
  if (outcome != "burned" && outcome != "spoiled" && outcome != "again")
    throw input_error("outcome", "is none of burned, spoiled, again");
  const std::lock_guard<std::mutex> guard(mutex_);
  const std::string where = "load " + std::to_string(load) + ", slot " + slot;
  database_->together([&] {
    Statement row(*database_, "SELECT piece, outcome FROM slots WHERE load = ? AND slot = ?");
    row.with(load).with(slot);
    if (!row.next() || row.is_null(1)) throw input_error(where, "nothing was burned there", "look at the page anew");
    Statement elsewhere(
        *database_, "SELECT load FROM slots WHERE piece = ? AND outcome = 'burned' AND NOT (load = ? AND slot = ?)");
    elsewhere.with(row.maybe_whole(0)).with(load).with(slot);
    if (outcome == "burned" && elsewhere.next())
      throw input_error(where, "its piece was burned again in load " + std::to_string(elsewhere.whole(0)),
                        "mark that one first, if it is not good");
    Statement(*database_, "UPDATE slots SET outcome = ? WHERE load = ? AND slot = ?")
        .with(outcome)
        .with(load)
        .with(slot)
        .run();
  });
}

void Book::add_inspection(std::int64_t load, const std::vector<FileContent>& files,
                          const std::map<std::string, std::string>& outcomes) {
  const std::lock_guard<std::mutex> guard(mutex_);
  database_->together([&] {
    add_files(*database_, load, files);
    for (const auto& [slot, outcome] : outcomes)
      Statement(*database_,
                "UPDATE slots SET outcome = ? WHERE load = ? AND slot = ? AND outcome IN ('burned', 'pass')")
          .with(outcome)
          .with(load)
          .with(slot)
          .run();
  });
}

std::int64_t Book::add_batch(const std::string& name, const std::string& time, const std::vector<std::string>& pieces) {
  const std::lock_guard<std::mutex> guard(mutex_);
  std::int64_t id = 0;
  bool named = false;
  for (const std::string& text : pieces) named = named || !text.empty();
  database_->together([&] {
    database_->run("UPDATE batches SET current = 0 WHERE current = 1");
    Statement(*database_, "INSERT INTO batches (name, time, named, current) VALUES (?, ?, ?, 1)")
        .with(name)
        .with(time)
        .with(named ? 1 : 0)
        .run();
    id = database_->last_id();
    std::int64_t number = 0;
    for (const std::string& text : pieces)
      Statement(*database_, "INSERT INTO pieces (batch, number, text) VALUES (?, ?, ?)")
          .with(id)
          .with(++number)
          .with(text)
          .run();
  });
  return id;
}

std::optional<Batch> Book::batch(std::int64_t id) const {
  const std::lock_guard<std::mutex> guard(mutex_);
  return batch_of(*database_, id);
}

std::optional<Batch> Book::current_batch() const {
  const std::lock_guard<std::mutex> guard(mutex_);
  const std::int64_t id = database_->whole("SELECT id FROM batches WHERE current = 1");
  return id == 0 ? std::nullopt : batch_of(*database_, id);
}

void Book::choose_batch(std::optional<std::int64_t> id) {
  const std::lock_guard<std::mutex> guard(mutex_);
  database_->together([&] {
    database_->run("UPDATE batches SET current = 0 WHERE current = 1");
    if (!id) return;
    Statement(*database_, "UPDATE batches SET current = 1 WHERE id = ?").with(*id).run();
    if (database_->changes() != 1)
      throw input_error("batch " + std::to_string(*id), "there is no such batch", "look at the page anew");
  });
}

std::vector<Batch> Book::unfinished_batches() const {
  const std::lock_guard<std::mutex> guard(mutex_);
  Statement rows(*database_, "SELECT id FROM batches WHERE current = 0 ORDER BY id DESC");
  std::vector<Batch> out;
  while (rows.next()) {
    std::optional<Batch> batch = batch_of(*database_, rows.whole(0));
    if (batch && batch->left() > 0) out.push_back(*std::move(batch));
  }
  return out;
}

std::vector<Piece> Book::pieces(std::int64_t batch) const {
  const std::lock_guard<std::mutex> guard(mutex_);
  Statement rows(*database_,
                 "SELECT number, text, load, slot FROM pieces LEFT JOIN slots ON piece = pieces.id AND outcome = "
                 "'burned' WHERE batch = ? ORDER BY number");
  rows.with(batch);
  std::vector<Piece> pieces;
  while (rows.next())
    pieces.push_back({rows.whole(0), rows.text(1), !rows.is_null(2), rows.maybe_whole(2), rows.text(3)});
  return pieces;
}

std::vector<Piece> Book::waiting(std::int64_t batch, std::size_t most) const {
  std::vector<Piece> all = pieces(batch);
  std::erase_if(all, [](const Piece& piece) { return piece.done; });
  if (all.size() > most) all.resize(most);
  return all;
}

std::string Book::csv() const {
  std::string out =
      "load,time,photo,fixture,design,batch,burned,slot,standing,ready,along_mm,across_mm,rotation_deg,u95_along_mm,"
      "u95_across_mm,u95_rotation_deg,piece,text,outcome\r\n";
  std::vector<BookLoad> loads = last_loads(1 << 30);
  std::reverse(loads.begin(), loads.end());
  for (const BookLoad& load : loads) {
    const std::string start = std::to_string(load.id) + "," + load.time + "," + csv_text(load.photo) + "," +
                              csv_text(load.fixture) + "," + csv_text(load.design) + "," +
                              (load.batch ? std::to_string(*load.batch) : "") + "," + load.burned + ",";
    const std::lock_guard<std::mutex> guard(mutex_);
    for (const BookSlot& slot : slots_of(*database_, load.id))
      out += start + csv_text(slot.id) + "," + slot.standing + (slot.ready ? ",yes," : ",no,") +
             number_cell(slot.along_mm) + "," + number_cell(slot.across_mm) + "," + number_cell(slot.rotation_deg) +
             "," + number_cell(slot.u_along_mm) + "," + number_cell(slot.u_across_mm) + "," +
             number_cell(slot.u_rotation_deg) + "," + (slot.piece ? std::to_string(*slot.piece) : "") + "," +
             csv_text(slot.text) + "," + slot.outcome + "\r\n";
  }
  return out;
}

std::string Book::json() const {
  nlohmann::ordered_json book = {{"schema", "jigtrue.book/1"}};
  book["batches"] = nlohmann::ordered_json::array();
  book["loads"] = nlohmann::ordered_json::array();
  std::vector<std::int64_t> batches;
  {
    const std::lock_guard<std::mutex> guard(mutex_);
    Statement rows(*database_, "SELECT id FROM batches ORDER BY id");
    while (rows.next()) batches.push_back(rows.whole(0));
  }
  for (const std::int64_t id : batches) {
    const std::optional<Batch> found = batch(id);
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    for (const Piece& piece : pieces(id))
      list.push_back({{"number", piece.number}, {"text", text_json(piece.text)}, {"done", piece.done}});
    book["batches"].push_back({{"id", id},
                               {"name", text_json(found->name)},
                               {"time", text_json(found->time)},
                               {"done", found->done},
                               {"left", found->left()},
                               {"spoiled", found->spoiled},
                               {"pieces", list}});
  }
  std::vector<BookLoad> loads = last_loads(1 << 30);
  std::reverse(loads.begin(), loads.end());
  for (const BookLoad& load : loads) {
    nlohmann::ordered_json slots = nlohmann::ordered_json::array();
    const std::lock_guard<std::mutex> guard(mutex_);
    for (const BookSlot& slot : slots_of(*database_, load.id)) slots.push_back(slot_json(slot));
    book["loads"].push_back({{"id", load.id},
                             {"time", text_json(load.time)},
                             {"photo", text_json(load.photo)},
                             {"fixture", text_json(load.fixture)},
                             {"design", text_json(load.design)},
                             {"batch", load.batch ? nlohmann::ordered_json(*load.batch) : nlohmann::ordered_json()},
                             {"burned", text_json(load.burned)},
                             {"slots", slots}});
  }
  return book.dump(1) + "\n";
}

bool is_book(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  char head[16] = {};
  in.read(head, sizeof head);
  return in.gcount() == sizeof head && std::string_view(head, sizeof head) == std::string_view("SQLite format 3\0", 16);
}

std::string book_records(const std::filesystem::path& file) {
  const Database database(file, Database::Use::read);
  check_version(database, file.string());
  // whoever never presses Burned replaces each load by the next: then all are kept
  Statement rows(database,
                 "SELECT record FROM loads WHERE replaced = 0 OR NOT EXISTS (SELECT 1 FROM loads WHERE burned IS NOT "
                 "NULL) ORDER BY id");
  std::string lines;
  while (rows.next()) lines += rows.text(0) + "\n";
  return lines;
}

}  // namespace jigtrue
