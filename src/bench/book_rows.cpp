#include "bench/book_rows.hpp"

#include "jigtrue/base/median.hpp"

#include <string>
#include <utility>

#include "bench/sqlite.hpp"

namespace jigtrue {
namespace {

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

}  // namespace

std::vector<BookLoad> loads_of(const Database& database, const char* which, int count) {
  Statement rows(database, (std::string(kLoadColumns) + which + "ORDER BY id DESC LIMIT ?").c_str());
  rows.with(count);
  std::vector<BookLoad> loads;
  while (rows.next()) loads.push_back(load_of(rows));
  return loads;
}

std::optional<BookLoad> load_called(const Database& database, std::int64_t id) {
  Statement row(database, (std::string(kLoadColumns) + "WHERE id = ?").c_str());
  row.with(id);
  return row.next() ? std::optional(load_of(row)) : std::nullopt;
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

}  // namespace jigtrue
