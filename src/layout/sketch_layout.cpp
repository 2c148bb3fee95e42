#include "jigtrue/layout/sketch_layout.hpp"

#include "jigtrue/detection/outline.hpp"
#include "jigtrue/layout/placement.hpp"

#include <array>
#include <cmath>

namespace jigtrue {
namespace {

constexpr std::size_t kMostArtPoints = 20'000;
constexpr double kTolerance_mm = 0.03;
constexpr double kSpan_mm = 20.0;  // of a map that no design gives a size

// The design's plane as the camera sees it: crown's height, its place corrected where it was measured.
struct DesignPlane {
  Vector3d centre = Vector3d::Zero();
  double heading_rad = 0.0;
  [[nodiscard]] Vector3d at(const Vector2d& along_across) const {
    const double c = std::cos(heading_rad);
    const double s = std::sin(heading_rad);
    return centre +
           Vector3d(c * along_across.x() - s * along_across.y(), s * along_across.x() + c * along_across.y(), 0);
  }
};

DesignPlane design_plane(const Slot& slot, const SlotResult& result) {
  DesignPlane plane;
  const double along_mm = slot.design ? slot.design->along_mm : 0.0;
  plane.heading_rad = rad_from_deg(result.numbers ? result.numbers->axis_deg : result.nominal_axis_deg);
  const Vector2d design = result.numbers ? result.numbers->centre_mm : result.nominal_centre_mm;
  const Vector2d heading = unit_vector(plane.heading_rad);
  const BlankPlace place{design - along_mm * heading, plane.heading_rad, 0.0, 0.0};
  plane.centre = {design.x(), design.y(), design_height_mm(slot.blank, slot.seat, place, along_mm)};
  return plane;
}

// The homography that fits nine points of the plane best (Hartley & Zisserman, Multiple View Geometry, 4.1, with h33 =
// 1): a lens bends what is drawn by less than a line's width over a design.
std::optional<Matrix3d> photo_from_plane(const Camera& camera, const DesignPlane& plane, const Vector2d& half_mm) {
  Eigen::Matrix<double, 18, 8> a;
  Eigen::Matrix<double, 18, 1> b;
  int row = 0;
  for (const double u : {-1.0, 0.0, 1.0}) {
    for (const double v : {-1.0, 0.0, 1.0}) {
      const auto px = project_bed_point(camera, plane.at({u * half_mm.x(), v * half_mm.y()}));
      if (!px) return std::nullopt;
      a.row(row) << u, v, 1.0, 0.0, 0.0, 0.0, -u * px->x(), -v * px->x();
      b(row++) = px->x();
      a.row(row) << 0.0, 0.0, 0.0, u, v, 1.0, -u * px->y(), -v * px->y();
      b(row++) = px->y();
    }
  }
  const Eigen::Matrix<double, 8, 1> h = (a.transpose() * a).ldlt().solve(a.transpose() * b);
  Matrix3d map;
  map << h(0), h(1), h(2), h(3), h(4), h(5), h(6), h(7), 1.0;
  return Matrix3d(map * Vector3d(1.0 / half_mm.x(), 1.0 / half_mm.y(), 1.0).asDiagonal());
}

// Drawings have y down, across runs up.
Polyline2d on_photo(const Matrix3d& photo_from_design, const SubPath& path) {
  Polyline2d line;
  for (const Vector2d& point : flattened(path, kTolerance_mm))
    line.emplace_back((photo_from_design * Vector3d(point.x(), -point.y(), 1.0)).hnormalized());
  if (path.closed && !line.empty()) line.push_back(line.front());
  return line;
}

std::vector<ArtLine> art_on_photo(const Matrix3d& photo_from_design, const std::vector<Pass>& passes) {
  std::vector<ArtLine> lines;
  std::size_t points = 0;
  for (const Pass& pass : passes) {
    for (const InkShape& shape : pass.shapes) {
      for (const SubPath& path : shape.outline) {
        SubPath drawn = path;
        drawn.closed = path.closed || !shape.fill.empty();
        lines.push_back({on_photo(photo_from_design, drawn), !shape.fill.empty()});
        points += lines.back().px.size();
        if (points > kMostArtPoints) return {};
      }
    }
  }
  return lines;
}

}  // namespace

std::optional<BedDirections> bed_directions(const Camera& camera, const Vector2d& about_mm) {
  constexpr double kStep_mm = 5.0;
  std::array<Vector2d, 3> px;
  const std::array<Vector2d, 3> bed = {about_mm, about_mm + Vector2d(kStep_mm, 0.0),
                                       about_mm + Vector2d(0.0, kStep_mm)};
  for (std::size_t i = 0; i < bed.size(); ++i) {
    const auto seen = project_bed_point(camera, {bed[i].x(), bed[i].y(), 0.0});
    if (!seen) return std::nullopt;
    px[i] = *seen;
  }
  return BedDirections{(px[1] - px[0]).normalized(), (px[2] - px[0]).normalized()};
}

std::optional<BedDirections> bed_directions(const Camera& camera, const Fixture& fixture) {
  Vector2d middle = Vector2d::Zero();
  for (const Slot& slot : fixture.slots) middle += slot.centre_mm / static_cast<double>(fixture.slots.size());
  return bed_directions(camera, middle);
}

std::vector<SlotResult> with_design_planes(const Camera& camera, const Fixture& fixture,
                                           std::vector<SlotResult> slots) {
  for (std::size_t i = 0; i < slots.size(); ++i) {
    SlotResult& own = slots[i];
    const Vector2d half = own.design ? Vector2d(own.design->width_mm / 2.0, own.design->height_mm / 2.0).cwiseMax(1.0)
                                     : Vector2d(kSpan_mm / 2.0, kSpan_mm / 2.0);
    own.sketch.photo_from_design = photo_from_plane(camera, design_plane(fixture.slots[i], own), half);
  }
  return slots;
}

void sketch_art(const DesignArt& art, CheckResult& result) {
  for (SlotResult& slot : result.slots) {
    const auto passes = art.of(slot.id);
    slot.sketch.art.clear();
    if (passes != nullptr && slot.sketch.photo_from_design && !why_left_out(slot))
      slot.sketch.art = art_on_photo(*slot.sketch.photo_from_design, *passes);
  }
}

}  // namespace jigtrue
