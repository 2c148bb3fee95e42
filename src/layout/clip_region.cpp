#include "layout/clip_region.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <cmath>

#include <clipper.hpp>

namespace jigtrue::svg {
namespace {

constexpr double kUnits_per_mm = 1e5;  // clipper works on whole numbers
constexpr double kClipTolerance_mm = 0.001;

ClipperLib::IntPoint to_units(const Vector2d& p) {
  return {std::llround(p.x() * kUnits_per_mm), std::llround(p.y() * kUnits_per_mm)};
}

ClipperLib::Path to_units(const Polyline2d& line) {
  ClipperLib::Path path;
  path.reserve(line.size());
  for (const Vector2d& p : line) path.push_back(to_units(p));
  return path;
}

Polyline2d from_units(const ClipperLib::Path& path) {
  Polyline2d line;
  line.reserve(path.size());
  for (const ClipperLib::IntPoint& p : path)
    line.emplace_back(static_cast<double>(p.X) / kUnits_per_mm, static_cast<double>(p.Y) / kUnits_per_mm);
  return line;
}

ClipperLib::Paths to_units(const std::vector<Polyline2d>& lines) {
  ClipperLib::Paths paths;
  for (const Polyline2d& line : lines) paths.push_back(to_units(line));
  return paths;
}

ClipperLib::Paths flattened_outline(const std::vector<SubPath>& outline) {
  ClipperLib::Paths paths;
  for (const SubPath& path : outline) paths.push_back(to_units(flattened(path, kClipTolerance_mm)));
  return paths;
}

SubPath straight(const ClipperLib::Path& path, bool closed) {
  const Polyline2d line = from_units(path);
  SubPath out{line.front(), {}, closed};
  for (std::size_t i = 1; i < line.size(); ++i) out.segments.push_back({false, line[i], line[i], line[i]});
  return out;
}

// A closed line is opened at its start, so that the cut pieces stay lines.
ClipperLib::Path stroke_line(const SubPath& path) {
  Polyline2d line = flattened(path, kClipTolerance_mm);
  if (path.closed) line.push_back(line.front());
  return to_units(line);
}

struct ClipSpan {
  double low_x;
  double high_x;
  double low_y;
  double high_y;
};

void append_spans(const ClipperLib::Paths& paths, std::vector<ClipSpan>& spans) {
  for (const ClipperLib::Path& path : paths) {
    for (std::size_t i = 0; i < path.size(); ++i) {
      const ClipperLib::IntPoint& a = path[i];
      const ClipperLib::IntPoint& b = path[(i + 1) % path.size()];
      const auto [x0, x1] = std::minmax(a.X, b.X);
      const auto [y0, y1] = std::minmax(a.Y, b.Y);
      spans.push_back(
          {static_cast<double>(x0), static_cast<double>(x1), static_cast<double>(y0), static_cast<double>(y1)});
    }
  }
}

// Clipping takes time and memory by the number of crossings, which grows with the square of the edges in a drawing made
// to hurt. Edges whose boxes overlap bound it; ordinary drawings have a few for each edge.
void spend(const ClipperLib::Paths& first, const ClipperLib::Paths& second, ClipBudget& budget) {
  const auto take = [](std::size_t& left, std::size_t cost) {
    if (cost > left)
      throw input_error("clip-path", "the drawing is too tangled to be clipped", "expand the clipping and save again");
    left -= cost;
  };
  std::vector<ClipSpan> spans;
  append_spans(first, spans);
  append_spans(second, spans);
  take(budget.points, spans.size());
  std::sort(spans.begin(), spans.end(), [](const ClipSpan& a, const ClipSpan& b) { return a.low_x < b.low_x; });
  for (std::size_t i = 0; i < spans.size(); ++i) {
    for (std::size_t j = i + 1; j < spans.size() && spans[j].low_x <= spans[i].high_x; ++j) {
      take(budget.looks, 1);
      if (spans[j].low_y <= spans[i].high_y && spans[i].low_y <= spans[j].high_y) take(budget.overlaps, 1);
    }
  }
}

}  // namespace

void ClipRegion::add(const std::vector<SubPath>& outline, bool even_odd, ClipBudget& budget) {
  const ClipperLib::Paths paths = flattened_outline(outline);
  spend(paths, {}, budget);
  ClipperLib::Clipper clipper;
  clipper.AddPaths(paths, ClipperLib::ptSubject, true);
  ClipperLib::Paths simple;
  const auto rule = even_odd ? ClipperLib::pftEvenOdd : ClipperLib::pftNonZero;
  clipper.Execute(ClipperLib::ctUnion, simple, rule, rule);
  for (const ClipperLib::Path& path : simple) area_.push_back(from_units(path));
}

void ClipRegion::intersect(const ClipRegion& other, ClipBudget& budget) {
  spend(to_units(area_), to_units(other.area_), budget);
  ClipperLib::Clipper clipper;
  clipper.AddPaths(to_units(area_), ClipperLib::ptSubject, true);
  clipper.AddPaths(to_units(other.area_), ClipperLib::ptClip, true);
  ClipperLib::Paths common;
  clipper.Execute(ClipperLib::ctIntersection, common, ClipperLib::pftNonZero, ClipperLib::pftNonZero);
  area_.clear();
  for (const ClipperLib::Path& path : common) area_.push_back(from_units(path));
}

std::vector<InkShape> ClipRegion::cut(const InkShape& shape, ClipBudget& budget) const {
  std::vector<InkShape> out;
  const ClipperLib::Paths area = to_units(area_);
  spend(flattened_outline(shape.outline), area, budget);
  if (!shape.fill.empty()) {
    ClipperLib::Clipper clipper;
    clipper.AddPaths(flattened_outline(shape.outline), ClipperLib::ptSubject, true);
    clipper.AddPaths(area, ClipperLib::ptClip, true);
    ClipperLib::Paths left;
    clipper.Execute(ClipperLib::ctIntersection, left, shape.even_odd ? ClipperLib::pftEvenOdd : ClipperLib::pftNonZero,
                    ClipperLib::pftNonZero);
    InkShape fill;
    fill.fill = shape.fill;
    for (const ClipperLib::Path& path : left) fill.outline.push_back(straight(path, true));
    if (!fill.outline.empty()) out.push_back(std::move(fill));
  }
  if (shape.stroke) {
    ClipperLib::Clipper clipper;
    for (const SubPath& path : shape.outline) clipper.AddPath(stroke_line(path), ClipperLib::ptSubject, false);
    clipper.AddPaths(area, ClipperLib::ptClip, true);
    ClipperLib::PolyTree tree;
    clipper.Execute(ClipperLib::ctIntersection, tree, ClipperLib::pftNonZero, ClipperLib::pftNonZero);
    ClipperLib::Paths left;
    ClipperLib::OpenPathsFromPolyTree(tree, left);
    InkShape line;
    line.stroke = shape.stroke;
    for (const ClipperLib::Path& path : left) line.outline.push_back(straight(path, false));
    if (!line.outline.empty()) out.push_back(std::move(line));
  }
  return out;
}

InkBox ClipRegion::bounds() const {
  InkBox box;
  for (const Polyline2d& line : area_)
    for (const Vector2d& point : line) box.hold(point);
  return box;
}

}  // namespace jigtrue::svg
