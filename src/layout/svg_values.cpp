#include "layout/svg_values.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace jigtrue::svg {
namespace {

bool is_svg_space(char c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r' || c == '\f'; }
bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

}  // namespace

void Cursor::skip_space() {
  while (!rest_.empty() && is_svg_space(rest_.front())) rest_.remove_prefix(1);
}

void Cursor::skip_comma() {
  skip_space();
  if (!rest_.empty() && rest_.front() == ',') rest_.remove_prefix(1);
  skip_space();
}

bool Cursor::at_end() {
  skip_space();
  return rest_.empty();
}

char Cursor::peek() {
  skip_space();
  return rest_.empty() ? '\0' : rest_.front();
}

bool Cursor::take(char expected) {
  if (peek() != expected) return false;
  advance();
  return true;
}

std::optional<double> Cursor::number() {
  skip_space();
  std::string_view text = rest_;
  if (!text.empty() && text.front() == '+') text.remove_prefix(1);
  std::string_view digits = text;
  if (!digits.empty() && digits.front() == '-' && digits.size() == text.size() && text.size() == rest_.size())
    digits.remove_prefix(1);
  // keeps out the "inf" and "nan" that from_chars would take
  if (digits.empty() || (!is_digit(digits.front()) && digits.front() != '.')) return std::nullopt;
  // "1em" is 1 and a unit, not a broken exponent
  double value = 0.0;
  const auto [end, code] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (code == std::errc::invalid_argument) return std::nullopt;
  if (code == std::errc::result_out_of_range) {
    // too small is zero, too large is refused: the digits before an exponent's minus tell which
    const std::string_view read(text.data(), static_cast<std::size_t>(end - text.data()));
    if (read.find("e-") == std::string_view::npos && read.find("E-") == std::string_view::npos &&
        !read.starts_with("0.") && !read.starts_with(".0"))
      return std::nullopt;
    value = 0.0;
  }
  if (!std::isfinite(value) || std::abs(value) > kLargestNumber) return std::nullopt;
  rest_.remove_prefix(static_cast<std::size_t>(end - rest_.data()));
  return value;
}

std::optional<bool> Cursor::flag() {
  const char c = peek();
  if (c != '0' && c != '1') return std::nullopt;
  advance();
  return c == '1';
}

std::string_view Cursor::word() {
  skip_space();
  std::size_t n = 0;
  while (n < rest_.size() && (is_letter(rest_[n]) || rest_[n] == '-')) ++n;
  const std::string_view found = rest_.substr(0, n);
  rest_.remove_prefix(n);
  return found;
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && is_svg_space(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_svg_space(text.back())) text.remove_suffix(1);
  return text;
}

std::vector<std::string_view> split(std::string_view text, char separator) {
  std::vector<std::string_view> parts;
  while (true) {
    const std::size_t at = text.find(separator);
    parts.push_back(trimmed(text.substr(0, at)));
    if (at == std::string_view::npos) return parts;
    text.remove_prefix(at + 1);
  }
}

std::vector<std::string_view> words(std::string_view text) {
  std::vector<std::string_view> found;
  while (!(text = trimmed(text)).empty()) {
    std::size_t n = 0;
    while (n < text.size() && !is_svg_space(text[n])) ++n;
    found.push_back(text.substr(0, n));
    text.remove_prefix(n);
  }
  return found;
}

namespace {

struct Unit {
  std::string_view name;
  double px;
  bool real;
};
constexpr std::array<Unit, 7> kUnits = {{{"", 1.0, false},
                                         {"px", 1.0, false},
                                         {"mm", 96.0 / 25.4, true},
                                         {"cm", 96.0 / 2.54, true},
                                         {"in", 96.0, true},
                                         {"pt", 96.0 / 72.0, true},
                                         {"pc", 16.0, true}}};

}  // namespace

std::optional<double> length(std::string_view text, double whole) {
  Cursor cursor(text);
  const auto value = cursor.number();
  if (!value) return std::nullopt;
  const std::string_view unit = trimmed(cursor.rest());
  double in_px = 0.0;
  if (unit == "%") {
    in_px = *value / 100.0 * whole;
  } else {
    const auto known = std::find_if(kUnits.begin(), kUnits.end(), [&](const Unit& each) { return each.name == unit; });
    if (known == kUnits.end()) return std::nullopt;
    in_px = *value * known->px;
  }
  if (std::abs(in_px) > kLargestNumber) return std::nullopt;
  return in_px;
}

bool has_real_unit(std::string_view text) {
  Cursor cursor(text);
  if (!cursor.number()) return false;
  const std::string_view unit = trimmed(cursor.rest());
  return std::any_of(kUnits.begin(), kUnits.end(), [&](const Unit& each) { return each.real && each.name == unit; });
}

namespace {

Affine from_six(double a, double b, double c, double d, double e, double f) {
  Affine out;
  out.matrix() << a, c, e, b, d, f;
  return out;
}

std::optional<Affine> one_transform(std::string_view name, const std::vector<double>& v) {
  const std::size_t n = v.size();
  Affine out = Affine::Identity();
  if (name == "matrix" && n == 6) return from_six(v[0], v[1], v[2], v[3], v[4], v[5]);
  if (name == "translate" && (n == 1 || n == 2)) {
    out.translate(Vector2d(v[0], n == 2 ? v[1] : 0.0));
    return out;
  }
  if (name == "scale" && (n == 1 || n == 2)) {
    out.scale(Vector2d(v[0], n == 2 ? v[1] : v[0]));
    return out;
  }
  if (name == "rotate" && (n == 1 || n == 3)) {
    const Vector2d about = n == 3 ? Vector2d(v[1], v[2]) : Vector2d(Vector2d::Zero());
    out.translate(about);
    out.rotate(Eigen::Rotation2Dd(rad_from_deg(v[0])));
    out.translate(-about);
    return out;
  }
  if (name == "skewX" && n == 1) return from_six(1, 0, std::tan(rad_from_deg(v[0])), 1, 0, 0);
  if (name == "skewY" && n == 1) return from_six(1, std::tan(rad_from_deg(v[0])), 0, 1, 0, 0);
  return std::nullopt;
}

}  // namespace

std::optional<Affine> transform(std::string_view text) {
  Affine out = Affine::Identity();
  Cursor cursor(text);
  while (!cursor.at_end()) {
    const std::string_view name = cursor.word();
    if (!cursor.take('(')) return std::nullopt;
    std::vector<double> values;
    while (!cursor.take(')')) {
      const auto value = cursor.number();
      if (!value || values.size() == 6) return std::nullopt;
      values.push_back(*value);
      cursor.skip_comma();
    }
    const auto next = one_transform(name, values);
    if (!next) return std::nullopt;
    out = out * *next;
    if (!out.matrix().allFinite() || out.matrix().cwiseAbs().maxCoeff() > 1e12) return std::nullopt;
    cursor.skip_comma();
  }
  return out;
}

std::optional<std::vector<Vector2d>> points(std::string_view text) {
  std::vector<Vector2d> out;
  Cursor cursor(text);
  while (!cursor.at_end()) {
    const auto x = cursor.number();
    cursor.skip_comma();
    const auto y = cursor.number();
    if (!x || !y) return std::nullopt;
    out.emplace_back(*x, *y);
    cursor.skip_comma();
  }
  return out;
}

std::optional<ViewBox> view_box(std::string_view text) {
  Cursor cursor(text);
  std::array<double, 4> v{};
  for (double& each : v) {
    const auto value = cursor.number();
    if (!value) return std::nullopt;
    each = *value;
    cursor.skip_comma();
  }
  if (!cursor.at_end() || !(v[2] > 0.0) || !(v[3] > 0.0)) return std::nullopt;
  return ViewBox{{v[0], v[1]}, {v[2], v[3]}};
}

Affine viewport_from_view_box(const ViewBox& box, const Vector2d& viewport, std::string_view aspect) {
  const std::vector<std::string_view> parts = words(aspect);
  std::string_view align = parts.empty() ? "xMidYMid" : parts[0];
  const bool slice = parts.size() > 1 && parts[1] == "slice";
  Vector2d scale = viewport.cwiseQuotient(box.size);
  Vector2d share = Vector2d::Zero();
  if (align != "none") {
    scale.setConstant(slice ? scale.maxCoeff() : scale.minCoeff());
    const auto place = [](std::string_view word) { return word == "Min" ? 0.0 : word == "Max" ? 1.0 : 0.5; };
    if (align.size() == 8)
      share = {place(align.substr(1, 3)), place(align.substr(5, 3))};
    else
      share = {0.5, 0.5};
  }
  const Vector2d room = viewport - box.size.cwiseProduct(scale);
  Affine out = Affine::Identity();
  out.translate(Vector2d(share.cwiseProduct(room)));
  out.scale(scale);
  out.translate(Vector2d(-box.origin));
  return out;
}

}  // namespace jigtrue::svg
