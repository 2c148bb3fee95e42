#include "jigtrue/layout/design_art.hpp"

#include "jigtrue/layout/usable_band.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {
namespace {

constexpr double kWrapTolerance_mm = 0.0025;
constexpr double kWrapPiece_mm = 0.25;  // a straight piece this long bows by L^2 / (8 R): 0.0014 mm at R = 5.5

Polyline2d in_short_pieces(const Polyline2d& line, bool closed) {
  Polyline2d out;
  const std::size_t n = line.size();
  for (std::size_t i = 0; i < n; ++i) {
    out.push_back(line[i]);
    if (i + 1 == n && !closed) break;
    const Vector2d step = line[(i + 1) % n] - line[i];
    const int pieces = static_cast<int>(std::ceil(std::abs(step.y()) / kWrapPiece_mm));
    for (int k = 1; k < pieces; ++k) out.push_back(line[i] + step * k / pieces);
  }
  return out;
}

class Wrap {
 public:
  Wrap(double radius_mm, double lean_rad) : radius_(radius_mm), lean_(lean_rad) {}

  [[nodiscard]] bool reaches(const InkBox& ink) const {
    return std::max(std::abs(ink.low.y()), std::abs(ink.high.y())) < radius_ * kPi / 2.0;
  }

  // y runs down in drawings, across runs up
  [[nodiscard]] Vector2d operator()(const Vector2d& p) const {
    return {p.x(), -plan_from_arc_mm(-p.y(), radius_, lean_)};
  }

  [[nodiscard]] SubPath operator()(const SubPath& path) const {
    const Polyline2d line = in_short_pieces(flattened(path, kWrapTolerance_mm), path.closed);
    SubPath out{(*this)(line.front()), {}, path.closed};
    for (std::size_t i = 1; i < line.size(); ++i) {
      const Vector2d to = (*this)(line[i]);
      out.segments.push_back({false, to, to, to});
    }
    return out;
  }

 private:
  double radius_;
  double lean_;
};

}  // namespace

InkBox ink_of(const std::vector<Pass>& passes) {
  InkBox box;
  for (const Pass& pass : passes) box.hold(ink_of(pass.shapes));
  return box;
}

std::vector<Pass> centred(const std::vector<Pass>& passes) {
  const InkBox box = ink_of(passes);
  if (box.empty()) return passes;
  std::vector<Pass> out = passes;
  for (Pass& pass : out) pass.shapes = moved(pass.shapes, -box.centre());
  return out;
}

DesignArt common_art(const Artwork& artwork) {
  DesignArt art;
  // by the ink that the reader states: clipped strokes reach less far than their lines
  art.common = std::make_shared<const std::vector<Pass>>(
      std::vector<Pass>{{"", moved(artwork.shapes, -artwork.ink.centre()), std::nullopt}});
  return art;
}

std::optional<std::vector<Pass>> wrapped(const std::vector<Pass>& passes, double radius_mm, double lean_rad) {
  const Wrap wrap(radius_mm, lean_rad);
  if (!wrap.reaches(ink_of(passes))) return std::nullopt;
  std::vector<Pass> out = passes;
  for (Pass& pass : out)
    for (InkShape& shape : pass.shapes)
      for (SubPath& path : shape.outline) path = wrap(path);
  return out;
}

}  // namespace jigtrue
