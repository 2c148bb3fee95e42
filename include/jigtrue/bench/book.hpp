// The book of a bench: one SQLite file that keeps batches, their pieces, loads, what each slot held and got, and the
// loads' output files. Every change is one transaction, on the disk when the call returns: a program that is killed or
// a machine that loses its power leaves the book as it was before the change or after it.
#pragma once
#include "jigtrue/base/write_file.hpp"

#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

class Database;

// One slot of a load as the book has it; lengths in mm, angles in degrees, absent where nothing was measured.
struct BookSlot {
  std::string id;
  std::string standing;  // as report/standing.hpp has it: "ready", "empty", ...
  bool ready = false;    // laid out, so burned with the load
  std::string finding;   // of a slot that is not ready: what was found and what to do
  std::string action;
  std::optional<double> along_mm, across_mm, rotation_deg;
  std::optional<double> u_along_mm, u_across_mm, u_rotation_deg;  // 95 % half-widths
  std::optional<std::int64_t> piece;                              // its number in the batch
  std::string text;                                               // what is written on the piece
  // "burned"; "pass": it wants another pass where it lies; "spoiled", "again": its piece is given to another blank;
  // empty before burning.
  std::string outcome;
};

struct BookLoad {
  std::int64_t id = 0;
  std::string time;  // ISO 8601, UTC
  std::string photo;
  std::string digest;  // of the picture (image/photo_digest.hpp)
  std::string fixture;
  std::string design;
  std::string headline;
  std::string record;  // the line that trend and settle read
  std::optional<std::int64_t> batch;
  std::optional<double> run_s;  // estimated run time
  std::string burned;           // when; empty: not burned (yet)
  bool replaced = false;        // a later photo of the same bench took its place before it was burned
  std::vector<BookSlot> slots;
};

struct Piece {
  std::int64_t number = 0;  // from 1
  std::string text;
  bool done = false;
  std::optional<std::int64_t> load;  // that it was burned in
  std::string slot;
};

struct Batch {
  std::int64_t id = 0;
  std::string name;
  std::string time;
  std::int64_t pieces = 0;
  bool named = false;
  std::int64_t done = 0;
  std::int64_t spoiled = 0;       // blanks lost
  std::optional<double> piece_s;  // from one burned piece to the next, as this batch has gone so far
  [[nodiscard]] std::int64_t left() const { return pieces - done; }
};

class Book {
 public:
  // Makes the file if it is not there. Empty: a book that lasts as long as this object. Throws InputError: no book, of
  // a later version, damaged, kept by another bench.
  explicit Book(const std::filesystem::path& file);
  // Where its page is found: the next bench that asks for the book is told.
  void kept_at(const std::string& page_address) const;
  Book(const Book&) = delete;
  Book& operator=(const Book&) = delete;
  ~Book();

  // Adds a load with its output files; one before it that was not burned is replaced, and blanks that waited for
  // another pass lie there no longer: their pieces go back to the batch. Returns its id.
  std::int64_t add_load(const BookLoad& load, const std::vector<FileContent>& files);
  [[nodiscard]] std::optional<BookLoad> load(std::int64_t id) const;
  [[nodiscard]] std::optional<BookLoad> last_load() const;
  [[nodiscard]] std::vector<BookLoad> last_loads(int count) const;  // the last first, without their slots
  // The same without those that a later photo replaced.
  [[nodiscard]] std::vector<BookLoad> last_standing_loads(int count) const;
  [[nodiscard]] std::optional<std::string> file(std::int64_t load, const std::string& name) const;
  // The load of this very picture, if any: the one that was burned before others.
  struct Seen {
    std::int64_t load = 0;
    bool burned = false;
  };
  [[nodiscard]] std::optional<Seen> seen(const std::string& digest) const;

  // Every ready slot of the load is burned; of one that was burned, those that wanted another pass. Throws InputError
  // when there is no such load, it was replaced, or nothing of it was to be burned.
  void burn(std::int64_t load, const std::string& time);
  // Of a slot that was burned: "spoiled" and "again" give its piece back to the batch, "burned" takes that back (unless
  // the piece was burned elsewhere meanwhile).
  void set_outcome(std::int64_t load, const std::string& slot, const std::string& outcome);

  // Of a load that was burned: files of its inspection, in place of earlier ones, and what was seen of slots, as
  // outcomes. It changes those that count as burned or wait for another pass; of others a person has spoken.
  void add_inspection(std::int64_t load, const std::vector<FileContent>& files,
                      const std::map<std::string, std::string>& outcomes);

  std::int64_t add_batch(const std::string& name, const std::string& time, const std::vector<std::string>& pieces);
  [[nodiscard]] std::optional<Batch> batch(std::int64_t id) const;
  // The one that loads are for: the last one begun or chosen. Nothing when it was set aside.
  [[nodiscard]] std::optional<Batch> current_batch() const;
  void choose_batch(std::optional<std::int64_t> id);            // nothing sets the current one aside
  [[nodiscard]] std::vector<Batch> unfinished_batches() const;  // but for the current one; the last first
  [[nodiscard]] std::vector<Piece> pieces(std::int64_t batch) const;
  [[nodiscard]] std::vector<Piece> waiting(std::int64_t batch, std::size_t most) const;

  [[nodiscard]] std::string csv() const;   // RFC 4180: one row for each slot of each load
  [[nodiscard]] std::string json() const;  // schema jigtrue.book/1

 private:
  struct Lock;
  std::unique_ptr<Lock> lock_;
  std::unique_ptr<Database> database_;
  mutable std::mutex mutex_;
};

// Whether a file is a SQLite database, by its first bytes.
[[nodiscard]] bool is_book(const std::filesystem::path& file);
// The loads' records, a line each, as check --record keeps them; also while a bench writes the book. Photos that
// others replaced are left out, for that was one load; all are given of a book in which nothing was ever burned. Throws
// InputError.
[[nodiscard]] std::string book_records(const std::filesystem::path& file);

}  // namespace jigtrue
