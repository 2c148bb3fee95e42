// SQLite with its errors told in words: one connection, prepared statements, transactions.
#pragma once
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

struct sqlite3;
struct sqlite3_stmt;

namespace jigtrue {

class Database;

// One statement; its values are bound in their order, from the first question mark on.
class Statement {
 public:
  Statement(const Database& database, const char* sql);

  Statement& with(std::int64_t value);
  Statement& with(int value) { return with(std::int64_t{value}); }
  Statement& with(double value);
  Statement& with(std::string_view text);
  Statement& with(const char* text) { return with(std::string_view(text)); }
  Statement& with_bytes(std::string_view bytes);
  template <class T>
  Statement& with(const std::optional<T>& value) {
    return value ? with(*value) : with_nothing();
  }
  Statement& with_nothing();

  bool next();  // the next row, if there is one
  void run();   // to its end

  [[nodiscard]] bool is_null(int column) const;
  [[nodiscard]] std::int64_t whole(int column) const;
  [[nodiscard]] double number(int column) const;
  [[nodiscard]] std::string text(int column) const;  // also of bytes
  [[nodiscard]] std::optional<double> maybe_number(int column) const;
  [[nodiscard]] std::optional<std::int64_t> maybe_whole(int column) const;

 private:
  void bound(int status);
  const Database* database_;
  std::unique_ptr<sqlite3_stmt, int (*)(sqlite3_stmt*)> statement_;
  int bound_ = 0;
};

class Database {
 public:
  enum class Use { read, read_and_write };
  // An empty name: a file of its own in the temporary folder, gone with the connection. Everything throws InputError
  // that names the file: it cannot be opened, is damaged, full, in use, read-only.
  Database(const std::filesystem::path& file, Use use);

  void run(const char* sql) const;  // any number of statements without results
  [[nodiscard]] std::int64_t whole(const char* sql) const;
  [[nodiscard]] std::int64_t last_id() const;
  [[nodiscard]] int changes() const;
  // All of it or nothing.
  void together(const std::function<void()>& work) const;

  [[noreturn]] void fail(int status) const;
  [[nodiscard]] sqlite3* handle() const { return handle_.get(); }

 private:
  std::string name_;
  std::unique_ptr<sqlite3, int (*)(sqlite3*)> handle_;
};

}  // namespace jigtrue
