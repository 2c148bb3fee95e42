#include "report/bed_map.hpp"

#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "report/calibration_parts.hpp"

namespace jigtrue::page {

namespace {

constexpr double kMapLeft = 46.0;

struct Shade {
  const char* fill;
  bool dark;
};
// From sure to unsure; lightness falls evenly, so that a grey print still reads.
constexpr std::array<Shade, 8> kShades = {{{"#f2f3dc", false},
                                           {"#d3e6cf", false},
                                           {"#a9d3c6", false},
                                           {"#79b9bd", false},
                                           {"#4f97b0", true},
                                           {"#42709d", true},
                                           {"#46487f", true},
                                           {"#431f55", true}}};

struct Box {
  Vector2d low = Vector2d::Constant(1e9);
  Vector2d high = Vector2d::Constant(-1e9);
  void hold(const Vector2d& point) {
    low = low.cwiseMin(point);
    high = high.cwiseMax(point);
  }
};

Box worth_drawing(const CameraRecord& record, const std::vector<Vector3d>& points_mm) {
  Box box;
  for (const Vector3d& point : points_mm) box.hold(point.head<2>());
  const double margin = std::clamp(0.4 * (box.high - box.low).maxCoeff(), 40.0, 100.0);
  box.low -= Vector2d::Constant(margin);
  box.high += Vector2d::Constant(margin);
  for (const WitnessMark& mark : record.witness) {
    box.hold(mark.nominal_mm - Vector2d::Constant(10.0));
    box.hold(mark.nominal_mm + Vector2d::Constant(10.0));
  }
  return box;
}

double cell_size(const Vector2d& span) {
  constexpr double kMostCells = 52.0;
  for (const double size : {1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0})
    if (span.maxCoeff() <= kMostCells * size) return size;
  return span.maxCoeff() / kMostCells;
}

std::optional<MappedPoint> at_bed(const CameraRecord& record, const Vector2d& mm, double height_mm) {
  const auto px = project_bed_point(record.camera, {mm.x(), mm.y(), height_mm});
  return px ? map_point(record, *px, height_mm) : std::nullopt;
}

std::size_t class_of(double value, const std::vector<double>& bounds) {
  return static_cast<std::size_t>(std::lower_bound(bounds.begin(), bounds.end(), value) - bounds.begin());
}

// The shades used: spread over the scale when there are fewer classes than shades.
const Shade& shade(std::size_t class_index, std::size_t classes) {
  const std::size_t last = kShades.size() - 1;
  return kShades[classes < 2 ? 0 : class_index * last / (classes - 1)];
}

class Frame {
 public:
  explicit Frame(const BedMap& map)
      : low_(map.low_mm),
        scale_((kPlotWide - kMapLeft) / (map.cell_mm * map.columns)),
        high_(scale_ * map.cell_mm * map.rows) {}
  [[nodiscard]] double x(double mm) const { return kMapLeft + scale_ * (mm - low_.x()); }
  [[nodiscard]] double y(double mm) const { return high_ - scale_ * (mm - low_.y()); }
  [[nodiscard]] double scale() const { return scale_; }
  [[nodiscard]] double high() const { return high_; }

 private:
  Vector2d low_;
  double scale_;
  double high_;
};

// Neighbours of one class in a row become one box.
std::string cells(const BedMap& map, BedShare share, const std::vector<double>& bounds, const Frame& frame) {
  std::string out;
  const std::size_t classes = bounds.size() + 1;
  for (int row = 0; row < map.rows; ++row) {
    for (int column = 0; column < map.columns;) {
      const int from = column;
      if (!map.at(column, row)) {
        ++column;
        continue;
      }
      const std::size_t here = class_of(share_radius(*map.at(column, row), share), bounds);
      while (column < map.columns && map.at(column, row) &&
             class_of(share_radius(*map.at(column, row), share), bounds) == here)
        ++column;
      const double size = frame.scale() * map.cell_mm;
      out += "<rect x=\"" + coordinate(frame.x(map.low_mm.x() + map.cell_mm * from)) + "\" y=\"" +
             coordinate(frame.y(map.low_mm.y() + map.cell_mm * (row + 1))) + "\" width=\"" +
             coordinate(size * (column - from) + 0.3) + "\" height=\"" + coordinate(size + 0.3) + "\" fill=\"" +
             shade(here, classes).fill + "\"/>";
    }
  }
  return out;
}

std::string values(const BedMap& map, BedShare share, const std::vector<double>& bounds, const Frame& frame) {
  std::string out;
  const int step_x = std::max(1, map.columns / 6);
  const int step_y = std::max(1, static_cast<int>(std::lround(60.0 / (frame.scale() * map.cell_mm))));
  for (int row = step_y / 2; row < map.rows; row += step_y) {
    for (int column = step_x / 2; column < map.columns; column += step_x) {
      if (!map.at(column, row)) continue;
      const double value = share_radius(*map.at(column, row), share);
      const bool dark = shade(class_of(value, bounds), bounds.size() + 1).dark;
      const Vector2d mm = map.centre_mm(column, row);
      constexpr double kHalfText = 20.0;  // a number that the frame's edge would cut says something else
      if (frame.x(mm.x()) < 46.0 + kHalfText || frame.x(mm.x()) > 600.0 - kHalfText) continue;
      out += std::string("<text class=\"") + (dark ? "on-dark" : "on-light") + "\" text-anchor=\"middle\" x=\"" +
             coordinate(frame.x(mm.x())) + "\" y=\"" + coordinate(frame.y(mm.y()) + 4.0) + "\">" +
             fixed_text(value, value < 0.0995 ? 3 : 2) + "</text>";
    }
  }
  return out;
}

std::string map_axes(const BedMap& map, const Frame& frame) {
  const Vector2d high = map.low_mm + map.cell_mm * Vector2d(map.columns, map.rows);
  const double span = (high - map.low_mm).maxCoeff();
  const double step = span > 1500.0 ? 500.0 : (span > 700.0 ? 200.0 : (span > 350.0 ? 100.0 : 50.0));
  std::string out = "<rect class=\"full\" x=\"46\" width=\"554\" height=\"" + coordinate(frame.high()) + "\"/>";
  for (double mm = std::ceil(map.low_mm.x() / step) * step; mm <= high.x(); mm += step) {
    out += "<path class=\"rule\" d=\"M" + coordinate(frame.x(mm)) + " " + coordinate(frame.high()) +
           "v6\"/><text text-anchor=\"middle\" x=\"" + coordinate(frame.x(mm)) + "\" y=\"" +
           coordinate(frame.high() + 20.0) + "\">" + fixed_text(mm, 0) + "</text>";
  }
  for (double mm = std::ceil(map.low_mm.y() / step) * step; mm <= high.y(); mm += step) {
    out += "<path class=\"rule\" d=\"M46 " + coordinate(frame.y(mm)) +
           "h-6\"/><text text-anchor=\"end\" x=\"37\" y=\"" + coordinate(frame.y(mm) + 5.0) + "\">" +
           fixed_text(mm, 0) + "</text>";
  }
  return out + "<text text-anchor=\"end\" x=\"600\" y=\"" + coordinate(frame.high() + 56.0) +
         "\">bed X, mm (Y upwards)</text>";
}

std::string marks(const BedMap& map, const std::vector<Vector3d>& points_mm, const Vector3d& camera_mm,
                  const Frame& frame) {
  std::string out;
  for (const Vector3d& point : points_mm) {
    out += "<circle class=\"point\" cx=\"" + coordinate(frame.x(point.x())) + "\" cy=\"" +
           coordinate(frame.y(point.y())) + "\" r=\"2\"/>";
  }
  const Vector2d high = map.low_mm + map.cell_mm * Vector2d(map.columns, map.rows);
  if ((camera_mm.head<2>().array() > map.low_mm.array()).all() && (camera_mm.head<2>().array() < high.array()).all())
    out += "<path class=\"foot\" d=\"M" + coordinate(frame.x(camera_mm.x()) - 8.0) + " " +
           coordinate(frame.y(camera_mm.y())) + "h16m-8 -8v16\"/>";
  return out;
}

}  // namespace

BedMap sample_bed(const CameraRecord& record, const std::vector<Vector3d>& points_mm, double height_mm) {
  const Box box = worth_drawing(record, points_mm);
  BedMap map;
  map.height_mm = height_mm;
  map.cell_mm = cell_size(box.high - box.low);
  map.low_mm = (box.low / map.cell_mm).array().floor().matrix() * map.cell_mm;
  const Vector2d count = ((box.high - map.low_mm) / map.cell_mm).array().ceil().matrix();
  map.columns = static_cast<int>(count.x());
  map.rows = static_cast<int>(count.y());
  for (int row = 0; row < map.rows; ++row) {
    for (int column = 0; column < map.columns; ++column) {
      map.cells.push_back(at_bed(record, map.centre_mm(column, row), height_mm));
    }
  }
  return map;
}

double share_radius(const MappedPoint& point, BedShare share) {
  const Matrix2d model = point.lens_error_mm * point.lens_error_mm * Matrix2d::Identity();
  switch (share) {
    case BedShare::lens:
      return radius_95(point.lens_share_mm2 + model);
    case BedShare::pose:
      return radius_95(point.pose_share_mm2);
    case BedShare::whole:
      break;
  }
  return point.radius_95_mm;
}

std::vector<double> class_bounds(std::vector<double> values_mm) {
  constexpr std::size_t kMost = kShades.size() - 1;
  if (values_mm.empty()) return {};
  std::sort(values_mm.begin(), values_mm.end());
  const double low = std::max(values_mm[values_mm.size() / 50], 1e-5);
  const double high = std::max(values_mm[values_mm.size() - 1 - values_mm.size() / 50], low);
  std::vector<double> bounds;
  if (high < 4.0 * low) {  // even steps
    const double power = std::pow(10.0, std::floor(std::log10(std::max((high - low) / 4.0, 1e-5))));
    double step = power;
    for (const double lead : {2.0, 5.0, 10.0})
      if ((high - low) / step > static_cast<double>(kMost)) step = lead * power;
    for (double bound = std::ceil(low / step + 1e-9) * step; bound < high; bound += step) bounds.push_back(bound);
  } else {
    for (double power = 1e-5; power < 1e4; power *= 10.0)
      for (const double lead : {1.0, 1.5, 2.0, 3.0, 5.0, 7.0})
        if (lead * power > low && lead * power < high) bounds.push_back(lead * power);
  }
  while (bounds.size() > kMost) {  // every second, as often as it takes
    std::vector<double> fewer;
    for (std::size_t i = bounds.size() % 2 == 0 ? 1 : 0; i < bounds.size(); i += 2) fewer.push_back(bounds[i]);
    bounds = fewer;
  }
  return bounds;
}

std::string class_legend(const std::vector<double>& bounds_mm) {
  const std::size_t classes = bounds_mm.size() + 1;
  std::string out =
      "<figure class=\"plot\"><svg role=\"img\" viewBox=\"0 0 600 68\"><title>Scale of the maps, mm</title><text "
      "x=\"0\" y=\"18\">up to, mm</text>";
  const double wide = 600.0 / static_cast<double>(classes);
  for (std::size_t i = 0; i < classes; ++i) {
    const double x = wide * static_cast<double>(i);
    const auto bound = [&](std::size_t index) {
      std::string text = fixed_text(bounds_mm[index], 5);
      text.erase(text.find_last_not_of('0') + 1);
      if (text.back() == '.') text.pop_back();
      return text;
    };
    std::string name = "all alike";
    // numbers alone: with words they would not fit side by side in letters that a phone shows
    if (classes > 1) name = i + 1 == classes ? "more" : bound(i);
    out += "<rect x=\"" + coordinate(x) + "\" y=\"26\" width=\"" + coordinate(wide) + "\" height=\"18\" fill=\"" +
           shade(i, classes).fill + "\"/><text text-anchor=\"middle\" x=\"" + coordinate(x + wide / 2.0) +
           "\" y=\"62\">" + name + "</text>";
  }
  return out + "</svg></figure>\n";
}

std::string bed_map_picture(const BedMap& map, BedShare share, const std::vector<double>& bounds_mm,
                            const std::vector<Vector3d>& points_mm, const Vector3d& camera_mm,
                            const std::string& caption) {
  const Frame frame(map);
  return "<figure class=\"plot\"><svg role=\"img\" viewBox=\"-1 -16 620 " + coordinate(frame.high() + 84.0) +
         "\"><title>" + markup_text(caption) + "</title><g shape-rendering=\"crispEdges\">" +
         cells(map, share, bounds_mm, frame) + "</g>" + map_axes(map, frame) + marks(map, points_mm, camera_mm, frame) +
         values(map, share, bounds_mm, frame) + "</svg><figcaption>" + markup_text(caption) +
         "</figcaption></figure>\n";
}

}  // namespace jigtrue::page
