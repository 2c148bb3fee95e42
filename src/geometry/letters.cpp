#include "jigtrue/geometry/letters.hpp"

#include <algorithm>
#include <charconv>
#include <cstddef>
#include <iterator>
#include <string_view>

#include "geometry/typeface.hpp"

namespace jigtrue {
namespace {

Letter read_letter(std::string_view text) {
  Letter read;
  const char* at = text.data();
  const char* end = at + text.size();
  const auto number = [&] {
    int value = 0;
    at = std::from_chars(at, end, value).ptr;
    return static_cast<double>(value);
  };
  read.advance = number();
  while (at < end) {
    if (*at == ';') read.contours.emplace_back();
    ++at;  // the sign before each point
    const double x = number();
    ++at;
    const double y = number();
    read.contours.back().emplace_back(x, y);
  }
  return read;
}

}  // namespace

const Letter& letter(char c) {
  static const std::vector<Letter> letters = [] {
    std::vector<Letter> all;
    all.reserve(std::size(typeface::kLetters));
    for (const std::string_view text : typeface::kLetters) all.push_back(read_letter(text));
    return all;
  }();
  const int index = static_cast<unsigned char>(c) - 32;
  return letters[index >= 0 && index < static_cast<int>(letters.size()) ? static_cast<std::size_t>(index) : '?' - 32U];
}

std::vector<Polyline2d> letters_mm(const std::string& text, double height_mm, double most_width_mm) {
  double advance = 0.0;
  for (const char c : text) advance += letter(c).advance;
  const double scale = std::min(height_mm / 100.0, most_width_mm / std::max(advance, 1.0));
  Vector2d start(-advance / 2.0, -50.0);
  std::vector<Polyline2d> contours;
  for (const char c : text) {
    for (Polyline2d contour : letter(c).contours) {
      for (Vector2d& point : contour) point = scale * (start + point);
      contours.push_back(std::move(contour));
    }
    start.x() += letter(c).advance;
  }
  return contours;
}

}  // namespace jigtrue
