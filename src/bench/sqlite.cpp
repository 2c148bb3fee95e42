#include "bench/sqlite.hpp"

#include "jigtrue/base/error.hpp"

#include <sqlite3.h>

namespace jigtrue {
namespace {

struct Trouble {
  std::string what;
  std::string remedy;
};

Trouble trouble(int status, const char* said) {
  switch (status & 0xff) {
    case SQLITE_FULL:
      return {"the disk is full, so nothing was written", "make room on it"};
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {"another program is writing into it", "end that program, or wait"};
    case SQLITE_READONLY:
    case SQLITE_PERM:
      return {"cannot be written", "give the right to write it and its folder"};
    case SQLITE_CANTOPEN:
      return {"cannot be opened", "look whether its folder is there and may be written"};
    case SQLITE_NOTADB:
      return {"is no book", "name another file, or one that is not there yet"};
    case SQLITE_CORRUPT:
      return {"is damaged", "take the last copy of it that was kept"};
    case SQLITE_NOMEM:
    case SQLITE_TOOBIG:
      return {"holds more than there is memory for", "take the last copy of it that was kept"};
    case SQLITE_IOERR:
      return {"cannot be read or written: " + std::string(said), "look at the disk: it may be full or failing"};
    default:
      return {"is no book that can be read: " + std::string(said), "name another file, or take a copy that was kept"};
  }
}

std::string one_line(std::string text) {
  for (char& c : text)
    if (static_cast<unsigned char>(c) < 0x20) c = ' ';
  return text;
}

}  // namespace

Database::Database(const std::filesystem::path& file, Use use)
    : name_(file.empty() ? "the book" : file.string()), handle_(nullptr, sqlite3_close) {
  const int how = use == Use::read ? SQLITE_OPEN_READONLY : SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE;
  sqlite3* opened = nullptr;
  // a name that begins with a slash or a dot is never taken for something else than a file
  const std::string name = file.empty() ? std::string() : std::filesystem::absolute(file).string();
  const int status = sqlite3_open_v2(name.c_str(), &opened, how | SQLITE_OPEN_FULLMUTEX, nullptr);
  handle_.reset(opened);
  if (status != SQLITE_OK) fail(status);
  sqlite3_extended_result_codes(opened, 1);
  sqlite3_busy_timeout(opened, 3000);
  sqlite3_db_config(opened, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
  sqlite3_db_config(opened, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
}

void Database::fail(int status) const {
  const Trouble found = trouble(status, handle_ ? sqlite3_errmsg(handle_.get()) : sqlite3_errstr(status));
  const FailureCode code = (status & 0xff) == SQLITE_FULL ? FailureCode::disk_full : FailureCode::unspecified;
  throw InputError(name_, {one_line(found.what), code, found.remedy});
}

void Database::run(const char* sql) const {
  if (const int status = sqlite3_exec(handle_.get(), sql, nullptr, nullptr, nullptr); status != SQLITE_OK) fail(status);
}

std::int64_t Database::whole(const char* sql) const {
  Statement statement(*this, sql);
  return statement.next() ? statement.whole(0) : 0;
}

std::int64_t Database::last_id() const { return sqlite3_last_insert_rowid(handle_.get()); }
int Database::changes() const { return sqlite3_changes(handle_.get()); }

void Database::together(const std::function<void()>& work) const {
  run("BEGIN IMMEDIATE");
  try {
    work();
    run("COMMIT");
  } catch (...) {
    // a full disk may have rolled it back already
    if (sqlite3_get_autocommit(handle_.get()) == 0) sqlite3_exec(handle_.get(), "ROLLBACK", nullptr, nullptr, nullptr);
    throw;
  }
}

Statement::Statement(const Database& database, const char* sql)
    : database_(&database), statement_(nullptr, sqlite3_finalize) {
  sqlite3_stmt* prepared = nullptr;
  bound(sqlite3_prepare_v2(database.handle(), sql, -1, &prepared, nullptr));
  statement_.reset(prepared);
}

void Statement::bound(int status) {
  if (status != SQLITE_OK) database_->fail(status);
}

Statement& Statement::with(std::int64_t value) {
  bound(sqlite3_bind_int64(statement_.get(), ++bound_, value));
  return *this;
}
Statement& Statement::with(double value) {
  bound(sqlite3_bind_double(statement_.get(), ++bound_, value));
  return *this;
}
Statement& Statement::with(std::string_view text) {
  bound(sqlite3_bind_text64(statement_.get(), ++bound_, text.data(), text.size(), SQLITE_TRANSIENT, SQLITE_UTF8));
  return *this;
}
Statement& Statement::with_bytes(std::string_view bytes) {
  bound(sqlite3_bind_blob64(statement_.get(), ++bound_, bytes.data(), bytes.size(), SQLITE_TRANSIENT));
  return *this;
}
Statement& Statement::with_nothing() {
  bound(sqlite3_bind_null(statement_.get(), ++bound_));
  return *this;
}

bool Statement::next() {
  const int status = sqlite3_step(statement_.get());
  if (status == SQLITE_ROW) return true;
  if (status != SQLITE_DONE) database_->fail(status);
  return false;
}

void Statement::run() {
  while (next()) {
  }
}

bool Statement::is_null(int column) const { return sqlite3_column_type(statement_.get(), column) == SQLITE_NULL; }
std::int64_t Statement::whole(int column) const { return sqlite3_column_int64(statement_.get(), column); }
double Statement::number(int column) const { return sqlite3_column_double(statement_.get(), column); }
std::string Statement::text(int column) const {
  const void* bytes = sqlite3_column_blob(statement_.get(), column);
  const int size = sqlite3_column_bytes(statement_.get(), column);
  return bytes == nullptr ? std::string()
                          : std::string(static_cast<const char*>(bytes), static_cast<std::size_t>(size));
}
std::optional<double> Statement::maybe_number(int column) const {
  return is_null(column) ? std::nullopt : std::optional(number(column));
}
std::optional<std::int64_t> Statement::maybe_whole(int column) const {
  return is_null(column) ? std::nullopt : std::optional(whole(column));
}

}  // namespace jigtrue
