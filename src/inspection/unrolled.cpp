#include "jigtrue/inspection/unrolled.hpp"

#include "jigtrue/image/sensor_range.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace jigtrue {
namespace {

constexpr double kSteepest = 0.5;  // cosine between the surface's normal and up, or the sight: 60 degrees

class LinearTable {
 public:
  LinearTable() {
    for (std::size_t i = 0; i < table_.size(); ++i)
      table_[i] = static_cast<float>(linear_light(static_cast<double>(i) * 255.0 / (kSteps - 1)));
  }
  [[nodiscard]] float operator()(double srgb) const {
    const double x = std::clamp(srgb, 0.0, 255.0) * (kSteps - 1) / 255.0;
    const auto i = std::min(static_cast<std::size_t>(x), kSteps - 2);
    const auto f = static_cast<float>(x - static_cast<double>(i));
    return (1.0F - f) * table_[i] + f * table_[i + 1];
  }

 private:
  static constexpr std::size_t kSteps = 2048;  // of the table: an eighth of a grey level
  std::array<float, kSteps> table_{};
};

// Catmull and Rom's cubic through four neighbours.
std::array<double, 4> cubic_weights(double f) {
  return {f * (-0.5 + f * (1.0 - 0.5 * f)), 1.0 + f * f * (1.5 * f - 2.5), f * (0.5 + f * (2.0 - 1.5 * f)),
          f * f * (0.5 * f - 0.5)};
}

std::optional<double> cubic_at(const cv::Mat1b& plane, const Vector2d& px) {
  const int x = static_cast<int>(std::floor(px.x()));
  const int y = static_cast<int>(std::floor(px.y()));
  if (x < 1 || y < 1 || x + 2 >= plane.cols || y + 2 >= plane.rows) return std::nullopt;
  const auto wx = cubic_weights(px.x() - x);
  const auto wy = cubic_weights(px.y() - y);
  double sum = 0.0;
  for (int j = 0; j < 4; ++j) {
    const unsigned char* row = plane[y - 1 + j] + x - 1;
    sum += wy[static_cast<std::size_t>(j)] * (wx[0] * row[0] + wx[1] * row[1] + wx[2] * row[2] + wx[3] * row[3]);
  }
  return sum;
}

double linear_at(const cv::Mat1b& plane, const Vector2d& px) {
  const double x = std::clamp(px.x(), 0.0, plane.cols - 1.001);
  const double y = std::clamp(px.y(), 0.0, plane.rows - 1.001);
  const int column = static_cast<int>(x);
  const int row = static_cast<int>(y);
  const double fx = x - column;
  const double fy = y - row;
  const int right = std::min(column + 1, plane.cols - 1);
  const int below = std::min(row + 1, plane.rows - 1);
  return (1.0 - fy) * ((1.0 - fx) * plane(row, column) + fx * plane(row, right)) +
         fy * ((1.0 - fx) * plane(below, column) + fx * plane(below, right));
}

// Luminance of the photo at a position, in linear measure, and whether a channel is burned out there.
class LightReader {
 public:
  explicit LightReader(const Photo& photo) : photo_(photo) {}

  [[nodiscard]] std::optional<float> at(const Vector2d& px) const {
    const auto luma = cubic_at(photo_.luma, px);
    if (!luma || *luma >= kSensorFull) return std::nullopt;
    if (!photo_.has_colour()) return linear_(*luma);
    const Vector2d at = photo_.chroma.position(px);
    const double cb = linear_at(photo_.cb, at) - 128.0;
    const double cr = linear_at(photo_.cr, at) - 128.0;
    return 0.2126F * linear_(*luma + 1.402 * cr) + 0.7152F * linear_(*luma - 0.344136 * cb - 0.714136 * cr) +
           0.0722F * linear_(*luma + 1.772 * cb);
  }

 private:
  const Photo& photo_;
  LinearTable linear_;
};

double radius_at(const std::vector<Vector2d>& profile, double t) {
  for (std::size_t i = 1; i < profile.size(); ++i) {
    if (t > profile[i].x() && i + 1 < profile.size()) continue;
    const double share = (t - profile[i - 1].x()) / (profile[i].x() - profile[i - 1].x());
    return profile[i - 1].y() + share * (profile[i].y() - profile[i - 1].y());
  }
  return profile.front().y();
}

// Height of the blank over its own plan, and how far within its outline, seen from above, a point lies.
class BlankRelief {
 public:
  explicit BlankRelief(const BurnedSurface& surface)
      : shape_(grown(surface.blank.shape, surface.place.girth_mm, surface.place.length_mm)),
        frame_{surface.place.centre_mm, surface.place.heading_rad},
        cover_mm_(surface.cover_mm) {
    if (is_flat(shape_)) {
      top_mm_ = top_face_mm(shape_, surface.seat) + cover_mm_;
    } else {
      axis_ = axis_at(surface.blank, surface.seat, surface.place);
      profile_ = radius_profile(shape_);
    }
  }

  struct Point {
    double height_mm = 0.0;
    Vector3d normal = Vector3d::UnitZ();
    double inside_mm = 0.0;
  };
  [[nodiscard]] std::optional<Point> at(const Vector2d& bed_mm) const {
    if (const auto* plate = std::get_if<PlateBlank>(&shape_)) {
      const Vector2d uv = frame_.uv(bed_mm).cwiseAbs();
      const double inside = std::min(plate->width_mm / 2.0 - uv.x(), plate->height_mm / 2.0 - uv.y());
      if (inside < 0.0) return std::nullopt;
      return Point{top_mm_, Vector3d::UnitZ(), inside};
    }
    if (const auto* disc = std::get_if<DiscBlank>(&shape_)) {
      const double inside = disc->diameter_mm / 2.0 - (bed_mm - frame_.origin_mm).norm();
      if (inside < 0.0) return std::nullopt;
      return Point{top_mm_, Vector3d::UnitZ(), inside};
    }
    const double cosine = axis_.along.head<2>().norm();
    const Vector2d from_start = bed_mm - axis_.origin_mm.head<2>();
    const double t = from_start.dot(axis_.along.head<2>()) / (cosine * cosine);
    const double side = from_start.dot(axis_.side.head<2>());
    const double length = profile_.back().x();
    if (t < 0.0 || t > length) return std::nullopt;
    const double radius = radius_at(profile_, t) + cover_mm_;
    const double rise = radius * radius - side * side;
    if (rise <= 0.0) return std::nullopt;
    const double up = std::sqrt(rise);
    const Vector3d normal = (side * axis_.side + up * axis_.up) / radius;
    return Point{axis_.at(t).z() + up / std::max(axis_.up.z(), 0.1), normal,
                 std::min({t, length - t, radius - std::abs(side)})};
  }

 private:
  BlankShape shape_;
  PlanFrame frame_;
  double cover_mm_ = 0.0;
  double top_mm_ = 0.0;
  AxisFrame axis_;
  std::vector<Vector2d> profile_;
};

// Where a beam told `bed_mm` in the plane of focus meets the relief: the leaning ray, met by a few steps.
std::optional<Vector3d> meeting_point(const BurnedSurface& surface, const BlankRelief& relief, const Vector2d& bed_mm,
                                      BlankRelief::Point& point) {
  Vector2d at = bed_mm;
  for (int step = 0; step < (surface.head_mm ? 6 : 1); ++step) {
    const auto here = relief.at(at);
    if (!here) return std::nullopt;
    point = *here;
    if (!surface.head_mm) break;
    const Vector2d lean = (bed_mm - surface.head_mm->head<2>()) / (surface.head_mm->z() - surface.focus_mm);
    at = bed_mm + (surface.focus_mm - point.height_mm) * lean;
  }
  return Vector3d(at.x(), at.y(), point.height_mm);
}

}  // namespace

double linear_light(double srgb) {
  const double v = std::clamp(srgb / 255.0, 0.0, 1.0);
  return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
}

Vector2d PlanFrame::bed(const Vector2d& uv_mm) const {
  const double c = std::cos(heading_rad);
  const double s = std::sin(heading_rad);
  return origin_mm + Vector2d(c * uv_mm.x() - s * uv_mm.y(), s * uv_mm.x() + c * uv_mm.y());
}

Vector2d PlanFrame::uv(const Vector2d& bed_mm) const {
  const double c = std::cos(heading_rad);
  const double s = std::sin(heading_rad);
  const Vector2d d = bed_mm - origin_mm;
  return {c * d.x() + s * d.y(), -s * d.x() + c * d.y()};
}

std::optional<double> BurnedSurface::height_at(const Vector2d& bed_mm) const {
  const auto point = BlankRelief(*this).at(bed_mm);
  return point ? std::optional(point->height_mm) : std::nullopt;
}

std::optional<Vector3d> BurnedSurface::met_at(const Vector2d& bed_mm) const {
  BlankRelief::Point point;
  return meeting_point(*this, BlankRelief(*this), bed_mm, point);
}

std::optional<Vector2d> px_per_mm_at(const Camera& camera, const BurnedSurface& surface, const PlanFrame& frame) {
  const auto middle = surface.height_at(frame.origin_mm);
  if (!middle) return std::nullopt;
  const auto px = [&](double u, double v) {
    const Vector2d bed = frame.bed({u, v});
    return project_bed_point(camera, {bed.x(), bed.y(), *middle});
  };
  const auto along = px(0.5, 0.0);
  const auto back = px(-0.5, 0.0);
  const auto left = px(0.0, 0.5);
  const auto right = px(0.0, -0.5);
  if (!along || !back || !left || !right) return std::nullopt;
  return Vector2d((*along - *back).norm(), (*left - *right).norm());
}

Unrolled unroll(const Photo& photo, const Camera& camera, const BurnedSurface& surface, const PlanFrame& frame,
                const InkBox& box, double pitch_mm) {
  Unrolled out;
  out.frame = frame;
  out.pitch_mm = pitch_mm;
  out.low_mm = box.low;
  const Vector2d span = box.size() / pitch_mm;
  const cv::Size size(static_cast<int>(std::ceil(span.x())) + 1, static_cast<int>(std::ceil(span.y())) + 1);
  out.light = cv::Mat1f::zeros(size);
  out.seen = cv::Mat1b::zeros(size);
  out.px_per_mm = px_per_mm_at(camera, surface, frame).value_or(Vector2d::Ones());
  const BlankRelief relief(surface);
  const LightReader light(photo);
  const Vector3d eye = camera.centre_mm();
  for (int row = 0; row < size.height; ++row) {
    for (int column = 0; column < size.width; ++column) {
      BlankRelief::Point point;
      const auto met = meeting_point(surface, relief, frame.bed(out.uv(column, row)), point);
      if (!met || point.inside_mm < surface.margin_mm) continue;
      if (point.normal.z() < kSteepest || point.normal.dot((eye - *met).normalized()) < kSteepest) continue;
      const auto px = project_bed_point(camera, *met);
      const auto value = px ? light.at(*px) : std::nullopt;
      if (!value) continue;
      out.light(row, column) = *value;
      out.seen(row, column) = 255;
    }
  }
  return out;
}

}  // namespace jigtrue
