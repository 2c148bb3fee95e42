// The book as a file: made, opened, held by one bench at a time, read while another writes it.
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/bench/book.hpp"

#include <array>
#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <fstream>
#include <sys/file.h>
#include <unistd.h>

#include "bench/descriptor.hpp"
#include "bench/sqlite.hpp"

namespace jigtrue {
namespace {

constexpr std::int64_t kApplication = 0x4a54524b;  // in the file's head: a book of ours
constexpr std::int64_t kVersion = 1;

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
