#include "detection/outline_template.hpp"

#include <algorithm>
#include <cmath>
#include <utility>
#include <variant>

namespace jigtrue {
namespace {

double radius_at(const std::vector<Vector2d>& profile, double distance) {
  for (std::size_t i = 1; i < profile.size(); ++i) {
    const Vector2d& a = profile[i - 1];
    const Vector2d& b = profile[i];
    if (distance <= b.x()) return a.y() + (b.y() - a.y()) * std::max(distance - a.x(), 0.0) / (b.x() - a.x());
  }
  return profile.back().y();
}

}  // namespace

int whole_cells(double mm, double mm_per_cell) { return static_cast<int>(std::lround(mm / mm_per_cell)); }

OutlineTemplate outline_template(const BlankShape& shape, double mm_per_cell) {
  OutlineTemplate outline;
  const double length = length_mm(shape);
  const int half = whole_cells(0.5 * length, mm_per_cell);
  outline.start = -half;
  outline.end = half;
  const auto least = [](int radius) { return std::max(radius, 1); };
  if (const auto* plate = std::get_if<PlateBlank>(&shape)) {
    const int corner = whole_cells(plate->corner_radius_mm, mm_per_cell);
    const int radius = whole_cells(0.5 * plate->height_mm, mm_per_cell);
    const int straight = std::max(half - corner, 1);
    outline.pieces = {{-straight, straight, radius}};
    outline.start_radius = outline.end_radius = least(radius - corner);
    outline.turns_alike = true;
  } else {
    const std::vector<Vector2d> profile = radius_profile(shape);
    for (int x = -half; x < half; ++x) {
      const double distance = std::clamp((x + 0.5) * mm_per_cell + 0.5 * length, 0.0, length);
      const int radius = whole_cells(radius_at(profile, distance), mm_per_cell);
      if (outline.pieces.empty() || outline.pieces.back().radius != radius) outline.pieces.push_back({x, x, radius});
      outline.pieces.back().to = x + 1;
    }
    outline.start_radius = least(outline.pieces.front().radius);
    outline.end_radius = least(outline.pieces.back().radius);
    outline.turns_alike = !std::holds_alternative<TurnedBlank>(shape);
  }
  for (const SidePiece& piece : outline.pieces) outline.side_cells += piece.to - piece.from;
  return outline;
}

OutlineTemplate reversed(const OutlineTemplate& outline) {
  OutlineTemplate other = outline;
  std::reverse(other.pieces.begin(), other.pieces.end());
  for (SidePiece& piece : other.pieces) piece = {-piece.to, -piece.from, piece.radius};
  std::swap(other.start_radius, other.end_radius);
  return other;
}

}  // namespace jigtrue
