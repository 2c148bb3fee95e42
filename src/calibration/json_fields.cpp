#include "calibration/json_fields.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/base/error.hpp"

#include <cmath>
#include <optional>

namespace jigtrue {

namespace {

// Written rotations are exact to rounding; a hand that edited one is caught.
constexpr double kOrthonormal = 1e-6;
constexpr double kSymmetric = 1e-9;

// A matrix; pairs do not count, they stand side by side.
bool holds_rows(const Json& array) {
  for (const Json& element : array) {
    if (element.is_array() && element.size() > 2) return true;
  }
  return false;
}
bool holds_objects(const Json& array) {
  for (const Json& element : array) {
    if (element.is_object() || (element.is_array() && holds_objects(element))) return true;
  }
  return false;
}

void write(const Json& json, int indent, std::string& out) {
  const std::string space(static_cast<std::size_t>(indent) + 2, ' ');
  const std::string end_space(static_cast<std::size_t>(indent), ' ');
  if (json.is_object() && !json.empty()) {
    out += "{\n";
    std::size_t left = json.size();
    for (const auto& [key, value] : json.items()) {
      out += space + Json(key).dump() + ": ";
      write(value, indent + 2, out);
      out += --left > 0 ? ",\n" : "\n";
    }
    out += end_space + "}";
  } else if (json.is_array() && (holds_objects(json) || holds_rows(json))) {
    out += "[\n";
    std::size_t left = json.size();
    for (const Json& value : json) {
      out += space;
      write(value, indent + 2, out);
      out += --left > 0 ? ",\n" : "\n";
    }
    out += end_space + "]";
  } else if (json.is_array()) {
    out += "[";
    std::size_t left = json.size();
    for (const Json& value : json) {
      write(value, indent, out);
      if (--left > 0) out += ", ";
    }
    out += "]";
  } else {
    // names of files may hold bytes that are not UTF-8: they are replaced rather than refused
    out += json.dump(-1, ' ', false, Json::error_handler_t::replace);
  }
}

}  // namespace

void JsonField::fail(const std::string& what) const {
  std::string shown = value_->dump(-1, ' ', false, Json::error_handler_t::replace);
  if (shown.size() > 60) shown = shown.substr(0, 57) + "...";
  throw input_error(
      file_, (path_.empty() ? std::string() : path_ + " ") + what + (path_.empty() ? "" : ", not " + shown), remedy_);
}

bool JsonField::has(const std::string& key) const { return value_->is_object() && value_->contains(key); }

JsonField JsonField::operator[](const std::string& key) const {
  const std::string path = path_.empty() ? key : path_ + "." + key;
  if (!value_->is_object()) fail("must be an object");
  const auto found = value_->find(key);
  if (found == value_->end()) throw input_error(file_, path + " is missing", remedy_);
  return {*found, file_, path, remedy_};
}

JsonField JsonField::at(std::size_t index) const {
  const std::string path = path_ + "[" + std::to_string(index) + "]";
  if (index >= array_size()) throw input_error(file_, path + " is missing", remedy_);
  return {(*value_)[index], file_, path, remedy_};
}

std::size_t JsonField::array_size() const {
  if (!value_->is_array()) fail("must be an array");
  return value_->size();
}

double JsonField::number() const {
  if (!value_->is_number()) fail("must be a number");
  const double number = value_->get<double>();
  if (!std::isfinite(number)) fail("must be a finite number");
  return number;
}

double JsonField::positive() const {
  const double value = number();
  if (!(value > 0.0)) fail("must be greater than 0");
  return value;
}

double JsonField::not_negative() const {
  const double value = number();
  if (value < 0.0) fail("must not be negative");
  return value;
}

int JsonField::positive_integer() const {
  if (!value_->is_number_integer()) fail("must be a whole number");
  const double value = number();
  if (value < 1.0 || value > 1e6) fail("must lie between 1 and 1000000");
  return static_cast<int>(value);
}

std::string JsonField::text() const {
  if (!value_->is_string()) fail("must be a text");
  return value_->get<std::string>();
}

VectorXd JsonField::numbers(Eigen::Index count) const {
  if (array_size() != static_cast<std::size_t>(count)) fail("must hold " + std::to_string(count) + " numbers");
  VectorXd result(count);
  for (Eigen::Index i = 0; i < count; ++i) result[i] = at(static_cast<std::size_t>(i)).number();
  return result;
}

MatrixXd JsonField::matrix(Eigen::Index rows, Eigen::Index columns) const {
  if (array_size() != static_cast<std::size_t>(rows)) fail("must hold " + std::to_string(rows) + " rows");
  MatrixXd result(rows, columns);
  for (Eigen::Index i = 0; i < rows; ++i) result.row(i) = at(static_cast<std::size_t>(i)).numbers(columns).transpose();
  return result;
}

MatrixXd JsonField::covariance(Eigen::Index size) const {
  MatrixXd c = matrix(size, size);
  const VectorXd diagonal = c.diagonal();
  if (diagonal.minCoeff() < 0.0) fail("must not hold negative variances");
  // compared as correlations: the parameters have very different units
  const VectorXd scale = diagonal.unaryExpr([](double v) { return v > 0.0 ? 1.0 / std::sqrt(v) : 1.0; });
  const MatrixXd correlation = scale.asDiagonal() * c * scale.asDiagonal();
  if ((correlation - correlation.transpose()).cwiseAbs().maxCoeff() > kSymmetric) fail("must be symmetric");
  const std::optional<SymmetricEigen> eigen = symmetric_eigen(0.5 * (correlation + correlation.transpose()));
  if (!eigen || eigen->values.minCoeff() < -kSymmetric * static_cast<double>(size)) {
    fail("must be a covariance (no negative eigenvalues)");
  }
  return c;
}

Rigid JsonField::rigid() const {
  Rigid transform;
  const JsonField rotation = (*this)["rotation"];
  transform.rotation = rotation.matrix(3, 3);
  transform.translation = (*this)["translation_mm"].numbers(3);
  const Matrix3d excess = transform.rotation * transform.rotation.transpose() - Matrix3d::Identity();
  if (excess.cwiseAbs().maxCoeff() > kOrthonormal)
    rotation.fail("must be a rotation (rows of length 1, square to each other)");
  if (transform.rotation.determinant() < 0.0) rotation.fail("must be a rotation, not a reflection");
  return transform;
}

Json parse_json(const std::string& text, const std::string& file, const std::string& remedy) {
  try {
    return Json::parse(text);
  } catch (const Json::exception& error) {
    std::string what = error.what();
    // the library's own tag in brackets means nothing to a user
    if (const auto end = what.find("] "); end != std::string::npos) what = what.substr(end + 2);
    throw input_error(file, "not valid JSON: " + what, remedy);
  }
}

JsonField root_field(const Json& json, const std::string& file, const std::string& schema, const std::string& remedy) {
  JsonField root(json, file, "", remedy);
  if (!json.is_object()) throw input_error(file, "must be a JSON object", remedy);
  const JsonField field = root["schema"];
  if (field.text() != schema) field.fail("must be \"" + schema + "\"");
  return root;
}

Json json_of(const VectorXd& vector) {
  Json array = Json::array();
  for (const double v : vector) array.push_back(v);
  return array;
}

Json json_rows(const MatrixXd& matrix) {
  Json rows = Json::array();
  for (Eigen::Index i = 0; i < matrix.rows(); ++i) rows.push_back(json_of(VectorXd(matrix.row(i).transpose())));
  return rows;
}

Json json_of(const Rigid& transform) {
  return {{"rotation", json_rows(transform.rotation)}, {"translation_mm", json_of(VectorXd(transform.translation))}};
}

double rounded(double value, double step) { return std::round(value / step) / std::round(1.0 / step); }

std::string json_text(const Json& json) {
  std::string out;
  write(json, 0, out);
  return out + "\n";
}

}  // namespace jigtrue
