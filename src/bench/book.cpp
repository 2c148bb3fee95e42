#include "jigtrue/bench/book.hpp"

#include "jigtrue/base/error.hpp"

#include "bench/book_rows.hpp"
#include "bench/sqlite.hpp"

namespace jigtrue {
namespace {

constexpr std::int64_t kLoadsWithFiles = 1000;  // older loads keep their numbers; their files go

}  // namespace

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
  std::optional<BookLoad> load = load_called(*database_, id);
  if (load) load->slots = slots_of(*database_, id);
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

}  // namespace jigtrue
