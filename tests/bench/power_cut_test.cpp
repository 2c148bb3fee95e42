// The book when the machine loses its power: what was written and not yet synced may be there, be missing or be torn,
// in any mixture. What was acknowledged must be there all the same. SQLite's file layer is recorded, and the files are
// laid out anew as a disk may show them after a cut at any moment (as SQLite's own crash tests do: "How SQLite Is
// Tested", section 3.2).
#include "jigtrue/bench/book.hpp"
#include "support/temporary_folder.hpp"

#include <cstring>
#include <fstream>
#include <map>
#include <random>
#include <sqlite3.h>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue::test {
namespace {

struct Event {
  enum class Kind { write, truncate, sync, remove };
  Kind kind;
  std::string file;
  std::size_t at = 0;  // of a write, or the size that is left
  std::string bytes;
};

std::vector<Event>& events() {
  static std::vector<Event> all;
  return all;
}

sqlite3_vfs* real_layer() {
  static sqlite3_vfs* const layer = sqlite3_vfs_find(nullptr);
  return layer;
}

// SQLite makes room for it and for the real file behind it.
struct RecordedFile {
  sqlite3_file head;
  const char* name;
  [[nodiscard]] sqlite3_file* real() { return reinterpret_cast<sqlite3_file*>(this + 1); }
};
RecordedFile* recorded(sqlite3_file* file) { return reinterpret_cast<RecordedFile*>(file); }
sqlite3_file* real(sqlite3_file* file) { return recorded(file)->real(); }
const sqlite3_io_methods* calls(sqlite3_file* file) { return real(file)->pMethods; }

void note(Event::Kind kind, sqlite3_file* file, sqlite3_int64 at = 0, std::string bytes = {}) {
  if (recorded(file)->name == nullptr) return;  // a temporary file
  events().push_back({kind, recorded(file)->name, static_cast<std::size_t>(at), std::move(bytes)});
}

sqlite3_io_methods recording_calls() {
  sqlite3_io_methods m{};
  m.iVersion = 2;
  m.xClose = [](sqlite3_file* f) { return calls(f)->xClose(real(f)); };
  m.xRead = [](sqlite3_file* f, void* to, int n, sqlite3_int64 at) { return calls(f)->xRead(real(f), to, n, at); };
  m.xWrite = [](sqlite3_file* f, const void* from, int n, sqlite3_int64 at) {
    note(Event::Kind::write, f, at, std::string(static_cast<const char*>(from), static_cast<std::size_t>(n)));
    return calls(f)->xWrite(real(f), from, n, at);
  };
  m.xTruncate = [](sqlite3_file* f, sqlite3_int64 size) {
    note(Event::Kind::truncate, f, size);
    return calls(f)->xTruncate(real(f), size);
  };
  m.xSync = [](sqlite3_file* f, int how) {
    note(Event::Kind::sync, f);
    return calls(f)->xSync(real(f), how);
  };
  m.xFileSize = [](sqlite3_file* f, sqlite3_int64* size) { return calls(f)->xFileSize(real(f), size); };
  m.xLock = [](sqlite3_file* f, int how) { return calls(f)->xLock(real(f), how); };
  m.xUnlock = [](sqlite3_file* f, int how) { return calls(f)->xUnlock(real(f), how); };
  m.xCheckReservedLock = [](sqlite3_file* f, int* out) { return calls(f)->xCheckReservedLock(real(f), out); };
  m.xFileControl = [](sqlite3_file* f, int what, void* with) { return calls(f)->xFileControl(real(f), what, with); };
  m.xSectorSize = [](sqlite3_file* f) { return calls(f)->xSectorSize(real(f)); };
  // nothing is promised: a disk may do its writes in any order, and half of one
  m.xDeviceCharacteristics = [](sqlite3_file*) { return 0; };
  m.xShmMap = [](sqlite3_file* f, int page, int size, int grow, void volatile** out) {
    return calls(f)->xShmMap(real(f), page, size, grow, out);
  };
  m.xShmLock = [](sqlite3_file* f, int at, int n, int how) { return calls(f)->xShmLock(real(f), at, n, how); };
  m.xShmBarrier = [](sqlite3_file* f) { calls(f)->xShmBarrier(real(f)); };
  m.xShmUnmap = [](sqlite3_file* f, int remove) { return calls(f)->xShmUnmap(real(f), remove); };
  return m;
}

class Recording {
 public:
  Recording() : layer_(*real_layer()) {
    events().clear();
    layer_.zName = "recorded";
    layer_.szOsFile = static_cast<int>(sizeof(RecordedFile)) + real_layer()->szOsFile;
    layer_.xOpen = [](sqlite3_vfs*, const char* name, sqlite3_file* file, int flags, int* out) {
      static const sqlite3_io_methods methods = recording_calls();
      recorded(file)->head.pMethods = nullptr;
      recorded(file)->name = name;
      const int status = real_layer()->xOpen(real_layer(), name, real(file), flags, out);
      if (status == SQLITE_OK) recorded(file)->head.pMethods = &methods;
      return status;
    };
    layer_.xDelete = [](sqlite3_vfs*, const char* name, int sync) {
      events().push_back({Event::Kind::remove, name, 0, {}});
      return real_layer()->xDelete(real_layer(), name, sync);
    };
    sqlite3_vfs_register(&layer_, 1);
  }
  Recording(const Recording&) = delete;
  Recording& operator=(const Recording&) = delete;
  ~Recording() { sqlite3_vfs_unregister(&layer_); }

 private:
  sqlite3_vfs layer_;
};

void put(std::string& content, std::size_t at, const std::string& bytes) {
  if (content.size() < at + bytes.size()) content.resize(at + bytes.size(), '\0');
  std::memcpy(content.data() + at, bytes.data(), bytes.size());
}

void happen(std::string& content, const Event& event) {
  if (event.kind == Event::Kind::write) put(content, event.at, event.bytes);
  if (event.kind == Event::Kind::truncate) content.resize(event.at, '\0');
}

// What a disk may hold after the first `count` events: of what was not synced each is there, missing, or torn at a
// sector's edge.
std::map<std::string, std::string> after_a_cut(std::size_t count, std::mt19937& random) {
  std::map<std::string, std::string> files;
  std::map<std::string, std::vector<const Event*>> pending;
  for (std::size_t i = 0; i < count; ++i) {
    const Event& event = events()[i];
    if (event.kind == Event::Kind::remove) {
      files.erase(event.file);
      pending.erase(event.file);
    } else if (event.kind == Event::Kind::sync) {
      for (const Event* one : pending[event.file]) happen(files[event.file], *one);
      pending[event.file].clear();
    } else {
      pending[event.file].push_back(&event);
    }
  }
  for (const auto& [file, unsynced] : pending)
    for (const Event* one : unsynced) {
      const unsigned fate = random() % 3;
      if (fate == 0) continue;
      Event torn = *one;
      if (fate == 1) torn.bytes.resize(std::min<std::size_t>(torn.bytes.size(), random() % 9 * 512));
      happen(files[file], torn);
    }
  return files;
}

struct Acknowledged {
  std::size_t events = 0;  // that had come by then
  std::int64_t load = 0;
  bool burned = false;
};

constexpr const char* kNoon = "2024-05-01T12:00:00Z";

std::string content_of(std::int64_t load) { return std::string(20000, static_cast<char>('a' + load % 26)); }

// Loads written and burned; what was acknowledged when.
std::vector<Acknowledged> written(const std::filesystem::path& file) {
  std::vector<Acknowledged> told;
  Book book(file);
  book.add_batch("", kNoon, std::vector<std::string>(100, "Ona"));
  for (int i = 1; i <= 30; ++i) {
    BookLoad load;
    load.time = kNoon;
    load.batch = 1;
    BookSlot slot;
    slot.id = "1";
    slot.ready = true;
    slot.piece = i;
    load.slots.push_back(slot);
    const std::int64_t id = book.add_load(load, {{"report.json", content_of(i)}});
    told.push_back({events().size(), id, false});
    book.burn(id, kNoon);
    told.push_back({events().size(), id, true});
  }
  return told;
}

std::string integrity_of(const std::filesystem::path& file) {
  sqlite3* database = nullptr;
  sqlite3_open(file.c_str(), &database);
  std::string out;
  sqlite3_exec(
      database, "PRAGMA integrity_check",
      [](void* to, int, char** text, char**) {
        *static_cast<std::string*>(to) += text[0];
        return 0;
      },
      &out, nullptr);
  sqlite3_close(database);
  return out;
}

TEST(PowerCut, LosesNothingThatWasAcknowledged) {
  const TemporaryFolder folder;
  std::vector<Acknowledged> told;
  {
    const Recording recording;
    told = written(folder / "shop.book");
  }
  ASSERT_GT(events().size(), 300U);
  std::mt19937 random(1);
  int torn = 0;
  for (int cut = 0; cut < 100; ++cut) {
    const std::size_t count = told.front().events + random() % (events().size() - told.front().events);
    const std::map<std::string, std::string> files = after_a_cut(count, random);
    const std::filesystem::path there = folder / ("cut-" + std::to_string(cut));
    std::filesystem::create_directory(there);
    for (const auto& [name, content] : files)
      std::ofstream(there / std::filesystem::path(name).filename(), std::ios::binary) << content;
    Acknowledged last;
    for (const Acknowledged& one : told)
      if (one.events <= count) last = one;
    {
      const Book book(there / "shop.book");
      const std::optional<BookLoad> load = book.last_load();
      ASSERT_TRUE(load);
      ASSERT_GE(load->id, last.load) << "cut after event " << count;
      ASSERT_LE(load->id, last.load + 1);
      if (last.burned) {
        ASSERT_FALSE(book.load(last.load)->burned.empty()) << "cut after event " << count;
      }
      for (std::int64_t id = 1; id <= load->id; ++id) ASSERT_EQ(book.file(id, "report.json"), content_of(id));
      const std::int64_t done = book.current_batch()->done;
      ASSERT_GE(done, last.burned ? last.load : last.load - 1);
      ASSERT_LE(done, load->id);
      torn += load->id == last.load ? 1 : 0;
    }
    ASSERT_EQ(integrity_of(there / "shop.book"), "ok");
    std::filesystem::remove_all(there);
  }
  EXPECT_GT(torn, 25) << "too few cuts met a load on its way";
}

}  // namespace
}  // namespace jigtrue::test
