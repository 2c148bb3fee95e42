// Reading and writing the fields of calibration files: every fault is an InputError that names file, field and value.
// Internal.
#pragma once
#include "jigtrue/geometry/rigid.hpp"

#include <string>

#include <nlohmann/json.hpp>

namespace jigtrue {

using Json = nlohmann::ordered_json;

// A node and how it is reached, for messages: "lens.json: parameters.fx".
class JsonField {
 public:
  JsonField(const Json& value, std::string file, std::string path, std::string remedy)
      : value_(&value), file_(std::move(file)), path_(std::move(path)), remedy_(std::move(remedy)) {}

  [[nodiscard]] bool has(const std::string& key) const;
  [[nodiscard]] JsonField operator[](const std::string& key) const;  // an object's member; throws when it is not there
  [[nodiscard]] JsonField at(std::size_t index) const;               // an array's element
  [[nodiscard]] std::size_t array_size() const;                      // throws when it is no array
  [[nodiscard]] double number() const;                               // finite
  [[nodiscard]] double positive() const;
  [[nodiscard]] double not_negative() const;
  [[nodiscard]] int positive_integer() const;
  [[nodiscard]] std::string text() const;
  [[nodiscard]] VectorXd numbers(Eigen::Index count) const;
  [[nodiscard]] MatrixXd matrix(Eigen::Index rows, Eigen::Index columns) const;
  // Symmetric and without negative eigenvalues, to rounding.
  [[nodiscard]] MatrixXd covariance(Eigen::Index size) const;
  // {"rotation": three rows, "translation_mm": [x, y, z]}; orthonormal to 1e-6, right-handed.
  [[nodiscard]] Rigid rigid() const;
  [[nodiscard]] const Json& json() const { return *value_; }

  [[noreturn]] void fail(const std::string& what) const;

 private:
  const Json* value_;
  std::string file_;
  std::string path_;
  std::string remedy_;
};

// The file's root, after its schema has been checked.
[[nodiscard]] Json parse_json(const std::string& text, const std::string& file, const std::string& remedy);
[[nodiscard]] JsonField root_field(const Json& json, const std::string& file, const std::string& schema,
                                   const std::string& remedy);

[[nodiscard]] Json json_of(const VectorXd& vector);
[[nodiscard]] Json json_rows(const MatrixXd& matrix);
[[nodiscard]] Json json_of(const Rigid& transform);
[[nodiscard]] double rounded(double value, double step);

// Two spaces a level; an array of numbers or pairs stands on one line, a matrix on one line a row.
[[nodiscard]] std::string json_text(const Json& json);

}  // namespace jigtrue
