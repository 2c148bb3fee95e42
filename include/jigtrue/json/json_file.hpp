// Reading JSON, for every file of ours: one grammar, one leniency, and complaints that name file, field, value and
// remedy. Beyond plain JSON it takes a byte order mark, // and /* */ comments and a comma after the last item; it
// refuses a field that is given twice. Whoever reads a file written by hand also refuses unknown fields
// (require_fields); files that jigtrue writes may hold more than this version knows.
#pragma once
#include "jigtrue/base/error.hpp"
#include "jigtrue/geometry/types.hpp"

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json_fwd.hpp>

namespace jigtrue {

// What a file must be, for messages and as a bound on time and memory.
struct JsonForm {
  const char* name = "";    // "a fixture"
  const char* schema = "";  // "jigtrue.fixture/1"; empty: of none
  // What helps against any fault of a file that no person writes, "make it again with the lens command". Empty for a
  // file written by hand: then each complaint has a remedy of its own.
  const char* remedy = "";
  std::size_t most_bytes = 32u << 20;
  std::size_t most_values = 2'000'000;  // about 100 bytes of memory each
};

struct JsonRange {  // both ends belong to it
  double low = 0.0;
  double high = 0.0;
  const char* unit = "mm";
};

class JsonFile;

// A value of a file together with the way to it. Refers to the file: keep that alive. Every reader throws InputError on
// what breaks its rule; where a remedy can be given, the file's own (JsonForm) is taken instead if it has one.
class JsonField {
 public:
  [[nodiscard]] bool is_null() const;
  [[nodiscard]] bool is_object() const;
  [[nodiscard]] bool is_number() const;

  // An object's fields. find() and at() take null for a value, given() for an absent field.
  [[nodiscard]] bool has(const std::string& key) const;
  [[nodiscard]] std::optional<JsonField> find(const std::string& key) const;
  [[nodiscard]] std::optional<JsonField> given(const std::string& key) const;
  [[nodiscard]] JsonField at(const std::string& key, const std::string& remedy = {}) const;  // throws if it is missing
  [[nodiscard]] JsonField operator[](const std::string& key) const { return at(key); }
  [[nodiscard]] std::size_t field_count() const;
  [[nodiscard]] std::vector<std::string> keys() const;
  void require_object(const std::string& remedy = {}) const;
  // No other fields than these, "comment", "note" and what starts with "_" or "x_". `owner` ends the complaint:
  // "unknown field; a round blank has ...".
  void require_fields(const std::vector<std::string>& known, const std::string& owner) const;

  // A list's items; the remedy tells what the list holds.
  void require_list(std::size_t fewest, std::size_t most, const std::string& remedy = {}) const;
  [[nodiscard]] std::size_t size() const;  // throws when it is no list
  [[nodiscard]] JsonField operator[](std::size_t index) const;

  [[nodiscard]] double number() const;  // finite
  [[nodiscard]] double number(const JsonRange& range) const;
  [[nodiscard]] double positive() const;
  [[nodiscard]] double not_negative() const;
  [[nodiscard]] int positive_integer() const;
  [[nodiscard]] bool yes() const;          // true or false
  [[nodiscard]] std::string text() const;  // as it stands; may be empty
  // A text without control characters, spaces at its ends taken off.
  [[nodiscard]] std::string line(std::size_t most_bytes) const;
  [[nodiscard]] std::string line_or_number(
      std::size_t most_bytes) const;  // a number becomes the text that stands for it
  [[nodiscard]] std::vector<std::string> texts() const;
  [[nodiscard]] VectorXd numbers(Eigen::Index count) const;
  [[nodiscard]] MatrixXd matrix(Eigen::Index rows, Eigen::Index columns) const;
  [[nodiscard]] MatrixXd covariance(
      Eigen::Index size) const;  // symmetric and without negative eigenvalues, to rounding

  // "file: path: what; remedy"
  [[nodiscard]] InputError error(const std::string& what, const std::string& remedy = {}) const;
  // The same where the file is sound and another one was asked for: making it again (the form's remedy) is no help.
  [[nodiscard]] InputError wrong_file(const std::string& what, const std::string& remedy) const;
  [[nodiscard]] InputError missing(const std::string& key, const std::string& remedy = {}) const;
  // The same, for a rule that the value breaks: "must be symmetric, is 3".
  [[noreturn]] void fail(const std::string& rule, const std::string& remedy = {}) const;

  // The value as it stands, without comments, on one line.
  [[nodiscard]] std::string dump() const;

 private:
  friend class JsonFile;
  JsonField(const nlohmann::ordered_json& value, const JsonFile& file, std::string path)
      : value_(&value), file_(&file), path_(std::move(path)) {}
  const nlohmann::ordered_json* value_;
  const JsonFile* file_;
  std::string path_;
};

class JsonFile {
 public:
  // Throws InputError with the line and column (in characters, from 1), or with the path of the field.
  JsonFile(const std::string& text, const std::string& file_name, const JsonForm& form);
  JsonFile(const JsonFile&) = delete;
  JsonFile& operator=(const JsonFile&) = delete;
  ~JsonFile();

  [[nodiscard]] JsonField root() const;
  [[nodiscard]] const nlohmann::ordered_json& value() const { return *value_; }
  // The root, an object of the form's schema.
  [[nodiscard]] JsonField checked_root() const;

 private:
  friend class JsonField;
  std::unique_ptr<nlohmann::ordered_json> value_;
  std::string name_;
  JsonForm form_;
};

// Throws InputError unless the field "schema" names it.
void require_schema(const JsonField& object, const JsonForm& form);

// For messages: a value as JSON has it, cut to a readable length.
[[nodiscard]] std::string shown_text(const std::string& text);

}  // namespace jigtrue
