// What a drawing really burns: its outlines in true millimetres, and how far its ink reaches.
#pragma once
#include "jigtrue/geometry/types.hpp"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// Straight when `cubic` is false; otherwise a cubic Bezier curve with its two control points.
struct PathSegment {
  bool cubic = false;
  Vector2d control_1 = Vector2d::Zero();
  Vector2d control_2 = Vector2d::Zero();
  Vector2d end = Vector2d::Zero();
};

struct SubPath {
  Vector2d start = Vector2d::Zero();
  std::vector<PathSegment> segments;
  bool closed = false;  // a straight line leads back to the start
};

enum class LineCap { butt, round, square };
enum class LineJoin { miter, round, bevel };

// The pen of a stroke: a disc of diameter 1 under `pen`, so that an uneven scale makes it an ellipse.
struct Stroke {
  std::string colour;
  Matrix2d pen = Matrix2d::Identity();  // mm
  LineCap cap = LineCap::butt;
  LineJoin join = LineJoin::miter;
  double miter_limit = 4.0;

  [[nodiscard]] double width_mm() const;  // of a round pen of the same area
};

// A shape that leaves ink: filled, stroked or both.
struct InkShape {
  std::vector<SubPath> outline;
  std::string fill;  // a colour as the file has it; empty: not filled
  bool even_odd = false;
  std::optional<Stroke> stroke;
};

struct InkBox {
  Vector2d low = Vector2d::Constant(1e300);
  Vector2d high = Vector2d::Constant(-1e300);

  [[nodiscard]] bool empty() const { return !(low.array() <= high.array()).all(); }
  [[nodiscard]] Vector2d size() const { return high - low; }
  [[nodiscard]] Vector2d centre() const { return (low + high) / 2.0; }
  void hold(const Vector2d& point) {
    low = low.cwiseMin(point);
    high = high.cwiseMax(point);
  }
  void hold(const InkBox& box) {
    low = low.cwiseMin(box.low);
    high = high.cwiseMax(box.high);
  }
};

// Lengths in mm on the drawing's page, y DOWN as SVG has it.
struct Artwork {
  std::string file;
  Vector2d page_mm = Vector2d::Zero();
  std::vector<InkShape> shapes;    // in the order in which they are painted
  InkBox ink;                      // strokes with their width included; never empty
  std::vector<std::string> notes;  // whole sentences: what was taken for granted
};

// A drawing's file as SVG text: .svg as it is, .svgz (gzip, told by its first bytes) unpacked. Throws InputError as
// read_text_file does, and for packed data that is damaged or more than 16 MB once unpacked.
[[nodiscard]] std::string read_svg_file(const std::filesystem::path& file);

// Reads an SVG 1.1 drawing: paths, basic shapes, groups, transforms, units, viewBox, use and symbol, clip-path, nested
// svg, strokes, presentation attributes, style attributes and plain style sheets. Ink off the page counts: importers
// burn it. A white sheet over the whole page, below all else, is no ink. Clipping of a stroke clips its middle line; of
// what it paints, its extent. A page without units is taken as CSS has it, 96 to the inch, and says so in the notes.
// Gradients, patterns, dashes, markers, masks, filters, text and images are refused with the remedy; so are document
// types other than SVG's own public ones, entities, scripts, event handlers, animation and all references to outside
// the file. Nothing is fetched. Bounds: 16 MB, 64 levels, 200,000 elements drawn (uses counted each time), 500,000
// segments, curves of 2,000,000 points at 0.0005 mm, coordinates of 100 m. Throws InputError.
[[nodiscard]] Artwork read_artwork(const std::string& svg_text, const std::string& file_name);

// The same drawing with its ink's centre at (0, 0).
[[nodiscard]] std::vector<InkShape> moved(const std::vector<InkShape>& shapes, const Vector2d& by_mm);

// Straight pieces that stay within `tolerance_mm` of the curve; a closed one does not repeat its first point.
[[nodiscard]] Polyline2d flattened(const SubPath& path, double tolerance_mm);

// How far a shape's ink reaches: fills by their outline, strokes with width, joins and caps.
[[nodiscard]] InkBox ink_of(const InkShape& shape);
[[nodiscard]] InkBox ink_of(const std::vector<InkShape>& shapes);

}  // namespace jigtrue
