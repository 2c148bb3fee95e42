// Writing the fields of calibration files, and reading a rigid transform back. Internal.
#pragma once
#include "jigtrue/geometry/rigid.hpp"
#include "jigtrue/json/json_file.hpp"

#include <string>

#include <nlohmann/json.hpp>

namespace jigtrue {

using Json = nlohmann::ordered_json;

// {"rotation": three rows, "translation_mm": [x, y, z]}; orthonormal to 1e-6, right-handed.
[[nodiscard]] Rigid read_rigid(const JsonField& field);

[[nodiscard]] Json json_of(const VectorXd& vector);
[[nodiscard]] Json json_rows(const MatrixXd& matrix);
[[nodiscard]] Json json_of(const Rigid& transform);
[[nodiscard]] double rounded(double value, double step);

// Two spaces a level; an array of numbers or pairs stands on one line, a matrix on one line a row.
[[nodiscard]] std::string json_text(const Json& json);

}  // namespace jigtrue
