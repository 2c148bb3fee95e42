#include "calibration/json_write.hpp"

#include <cmath>

namespace jigtrue {

namespace {

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

Rigid read_rigid(const JsonField& field) {
  // written rotations are exact to rounding; a hand that edited one is caught
  constexpr double kOrthonormal = 1e-6;
  Rigid transform;
  const JsonField rotation = field["rotation"];
  transform.rotation = rotation.matrix(3, 3);
  transform.translation = field["translation_mm"].numbers(3);
  const Matrix3d excess = transform.rotation * transform.rotation.transpose() - Matrix3d::Identity();
  if (excess.cwiseAbs().maxCoeff() > kOrthonormal)
    throw rotation.error("must be a rotation (rows of length 1, square to each other)");
  if (transform.rotation.determinant() < 0.0) throw rotation.error("must be a rotation, not a reflection");
  return transform;
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
