// Path data and basic shapes as sub-paths, in user units. Private to this layer.
#pragma once
#include "jigtrue/layout/artwork.hpp"

#include <optional>
#include <string_view>
#include <vector>

#include "layout/svg_values.hpp"

namespace jigtrue::svg {

// SVG 1.1, chapter 8. Nothing when the data is malformed, holds a number too large or more segments than a drawing may.
// Elliptical arcs become cubics of at most 45 degrees each, off by less than 3e-6 of the radius.
[[nodiscard]] std::optional<std::vector<SubPath>> path_data(std::string_view text);

[[nodiscard]] SubPath polygon(const std::vector<Vector2d>& points, bool closed);
[[nodiscard]] SubPath ellipse(const Vector2d& centre, const Vector2d& radii);
[[nodiscard]] SubPath rounded_rectangle(const Vector2d& low, const Vector2d& size, const Vector2d& radii);

[[nodiscard]] SubPath transformed(const SubPath& path, const Affine& by);

}  // namespace jigtrue::svg
