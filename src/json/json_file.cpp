#include "jigtrue/json/json_file.hpp"

#include "jigtrue/base/decompositions.hpp"

#include <algorithm>
#include <cmath>

#include "json/field_name.hpp"
#include "json/json_text.hpp"

namespace jigtrue {
namespace {

using nlohmann::ordered_json;

constexpr double kSymmetric = 1e-9;  // of a covariance's entries: what writing them rounds

// 2.0 -> "2": ranges read better so.
std::string bound_text(double value) {
  std::string text = ordered_json(value).dump();
  if (text.ends_with(".0")) text.resize(text.size() - 2);
  return text;
}

bool is_control(unsigned char c) { return c < 0x20 || c == 0x7F; }

// Control characters in a file's name would break a message's one line.
std::string printable(std::string file_name) {
  std::replace_if(file_name.begin(), file_name.end(), is_control, '?');
  return file_name;
}

std::string remedy_for(const std::string& unit) {
  if (unit == "mm") return "give the real length in millimetres";
  if (unit == "deg") return "give the real angle in degrees";
  return "give a value in that range";
}

}  // namespace

InputError JsonField::error(const std::string& what, const std::string& remedy) const {
  const char* of_file = file_->form_.remedy;
  return wrong_file(what, *of_file != '\0' ? of_file : remedy);
}

InputError JsonField::wrong_file(const std::string& what, const std::string& remedy) const {
  return input_error(path_.empty() ? file_->name_ : file_->name_ + ": " + path_, what, remedy);
}

InputError JsonField::missing(const std::string& key, const std::string& remedy) const {
  return JsonField(*value_, *file_, json_detail::joined(path_, key)).error("missing", remedy);
}

void JsonField::fail(const std::string& rule, const std::string& remedy) const {
  throw error(rule + ", is " + json_detail::shown(*value_), remedy);
}

bool JsonField::is_null() const { return value_->is_null(); }
bool JsonField::is_object() const { return value_->is_object(); }
bool JsonField::is_number() const { return value_->is_number(); }

void JsonField::require_object(const std::string& remedy) const {
  if (!value_->is_object()) fail("must be an object", remedy);
}

void JsonField::require_fields(const std::vector<std::string>& known, const std::string& owner) const {
  require_object("write {\"" + known.front() + "\": ...}");
  for (const auto& [key, value] : value_->items()) {
    if (json_detail::is_free_name(key) || std::find(known.begin(), known.end(), key) != known.end()) continue;
    const json_detail::NameAdvice advice = json_detail::advice_for(key, known, owner);
    throw JsonField(value, *file_, json_detail::joined(path_, key)).error(advice.what, advice.remedy);
  }
}

bool JsonField::has(const std::string& key) const { return value_->is_object() && value_->contains(key); }

std::optional<JsonField> JsonField::find(const std::string& key) const {
  require_object();
  const auto found = value_->find(key);
  if (found == value_->end()) return std::nullopt;
  return JsonField(*found, *file_, json_detail::joined(path_, key));
}

std::optional<JsonField> JsonField::given(const std::string& key) const {
  const std::optional<JsonField> found = find(key);
  return found && !found->is_null() ? found : std::nullopt;
}

JsonField JsonField::at(const std::string& key, const std::string& remedy) const {
  const std::optional<JsonField> found = find(key);
  if (!found) throw missing(key, remedy);
  return *found;
}

void JsonField::require_list(std::size_t fewest, std::size_t most, const std::string& remedy) const {
  if (!value_->is_array()) fail("must be a list", remedy);
  const std::size_t count = value_->size();
  if (count >= fewest && count <= most) return;
  const std::string rule = fewest == most   ? std::to_string(most)
                           : count < fewest ? "at least " + std::to_string(fewest)
                                            : "at most " + std::to_string(most);
  throw error("holds " + std::to_string(count) + " items, must hold " + rule, remedy);
}

std::size_t JsonField::size() const {
  if (!value_->is_array()) fail("must be a list");
  return value_->size();
}

std::vector<std::string> JsonField::keys() const {
  require_object();
  std::vector<std::string> names;
  for (const auto& item : value_->items()) names.push_back(item.key());
  return names;
}

std::size_t JsonField::field_count() const {
  require_object();
  return value_->size();
}

JsonField JsonField::operator[](std::size_t index) const {
  const std::string path = json_detail::joined(path_, index);
  if (!value_->is_array()) fail("must be a list");
  if (index >= value_->size()) throw JsonField(*value_, *file_, path).error("missing");
  return JsonField((*value_)[index], *file_, path);
}

double JsonField::number() const {
  if (!value_->is_number()) fail("must be a number", "write it without quotes or unit, like 12.5");
  const double value = value_->get<double>();
  if (!std::isfinite(value)) fail("must be a finite number");
  return value;
}

double JsonField::number(const JsonRange& range) const {
  const double value = number();
  if (value >= range.low && value <= range.high) return value;
  const std::string unit = *range.unit != '\0' ? " " + std::string(range.unit) : "";
  throw error(
      json_detail::shown(*value_) + " is outside " + bound_text(range.low) + " to " + bound_text(range.high) + unit,
      remedy_for(range.unit));
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

bool JsonField::yes() const {
  if (!value_->is_boolean()) fail("must be true or false");
  return value_->get<bool>();
}

std::string JsonField::text() const {
  if (!value_->is_string()) fail("must be a text", "put it in double quotes");
  return value_->get<std::string>();
}

std::string JsonField::line_or_number(std::size_t most_bytes) const {
  return value_->is_number() ? value_->dump() : line(most_bytes);
}

std::string JsonField::line(std::size_t most_bytes) const {
  const std::string text = this->text();
  if (std::any_of(text.begin(), text.end(), is_control)) {
    throw error(json_detail::shown(*value_) + " holds a control character",
                "use letters, digits and signs on one line");
  }
  if (text.size() > most_bytes) {
    throw error(json_detail::shown(*value_) + " is longer than " + std::to_string(most_bytes) + " bytes", "shorten it");
  }
  const std::size_t first = text.find_first_not_of(' ');
  if (first == std::string::npos) return "";
  return text.substr(first, text.find_last_not_of(' ') - first + 1);
}

std::vector<std::string> JsonField::texts() const {
  if (!value_->is_array()) fail("must be a list");
  std::vector<std::string> list;
  for (std::size_t i = 0; i < value_->size(); ++i) list.push_back((*this)[i].text());
  return list;
}

VectorXd JsonField::numbers(Eigen::Index count) const {
  if (!value_->is_array() || value_->size() != static_cast<std::size_t>(count))
    fail("must hold " + std::to_string(count) + " numbers");
  VectorXd result(count);
  for (Eigen::Index i = 0; i < count; ++i) result[i] = (*this)[static_cast<std::size_t>(i)].number();
  return result;
}

MatrixXd JsonField::matrix(Eigen::Index rows, Eigen::Index columns) const {
  if (!value_->is_array() || value_->size() != static_cast<std::size_t>(rows))
    fail("must hold " + std::to_string(rows) + " rows");
  MatrixXd result(rows, columns);
  for (Eigen::Index i = 0; i < rows; ++i)
    result.row(i) = (*this)[static_cast<std::size_t>(i)].numbers(columns).transpose();
  return result;
}

MatrixXd JsonField::covariance(Eigen::Index size) const {
  MatrixXd c = matrix(size, size);
  const VectorXd diagonal = c.diagonal();
  if (diagonal.minCoeff() < 0.0) throw error("must not hold negative variances");
  // compared as correlations: the parameters have very different units
  const VectorXd scale = diagonal.unaryExpr([](double v) { return v > 0.0 ? 1.0 / std::sqrt(v) : 1.0; });
  const MatrixXd correlation = scale.asDiagonal() * c * scale.asDiagonal();
  if ((correlation - correlation.transpose()).cwiseAbs().maxCoeff() > kSymmetric) throw error("must be symmetric");
  const std::optional<SymmetricEigen> eigen = symmetric_eigen(0.5 * (correlation + correlation.transpose()));
  if (!eigen || eigen->values.minCoeff() < -kSymmetric * static_cast<double>(size))
    throw error("must be a covariance (no negative eigenvalues)");
  return c;
}

std::string JsonField::dump() const { return value_->dump(-1, ' ', false, ordered_json::error_handler_t::replace); }

JsonFile::JsonFile(const std::string& text, const std::string& file_name, const JsonForm& form)
    : name_(printable(file_name)), form_(form) {
  value_ = std::make_unique<ordered_json>(json_detail::parse_json(text, name_, form));
}

JsonFile::~JsonFile() = default;

JsonField JsonFile::root() const { return JsonField(*value_, *this, ""); }

JsonField JsonFile::checked_root() const {
  JsonField whole = root();
  whole.require_object("start it with {\"schema\": \"" + std::string(form_.schema) + "\", ...");
  require_schema(whole, form_);
  return whole;
}

void require_schema(const JsonField& object, const JsonForm& form) {
  const std::string expected = form.schema;
  const std::string remedy = "write \"schema\": \"" + expected + "\"";
  const JsonField field = object.at("schema", remedy);
  const std::string name = field.text();
  if (name == expected) return;
  if (name.starts_with(expected.substr(0, expected.rfind('/') + 1)))
    throw field.error(shown_text(name) + " is a version that this program does not read", remedy);
  if (name.starts_with("jigtrue."))
    throw field.wrong_file(shown_text(name) + " is not " + form.name + ", must be \"" + expected + "\"",
                           std::string("give ") + form.name + ", or correct the schema if it is one");
  throw field.error(shown_text(name) + " is unknown, must be \"" + expected + "\"", remedy);
}

std::string shown_text(const std::string& text) { return json_detail::shown(text); }

}  // namespace jigtrue
