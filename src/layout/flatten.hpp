// How finely curves are cut into straight pieces. Private to this layer.
#pragma once
#include "jigtrue/layout/artwork.hpp"

#include <cstddef>

namespace jigtrue::svg {

// Extents are wanted to 0.001 mm with room to spare.
inline constexpr double kExtentTolerance_mm = 0.0005;

// How many straight pieces keep within `tolerance_mm` of this curve.
[[nodiscard]] int curve_pieces(const Vector2d& from, const PathSegment& curve, double tolerance_mm);

// How many points flattened() gives, before it does.
[[nodiscard]] std::size_t flattened_points(const SubPath& path, double tolerance_mm);

}  // namespace jigtrue::svg
