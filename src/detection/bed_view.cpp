#include "jigtrue/detection/bed_view.hpp"

#include "jigtrue/detection/search_picture.hpp"
#include "jigtrue/image/shrink_photo.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kSmallest = 1.0 / 3.0;  // pixels a millimetre, of those in the middle
constexpr int kMostCells = 4'000'000;    // 16 MB a plane of floats

struct BedBox {
  Vector2d low = Vector2d::Constant(1e9);
  Vector2d high = Vector2d::Constant(-1e9);
  [[nodiscard]] bool empty() const { return !(low.array() < high.array()).all(); }
};

// The bed that the photo shows large enough, from a lattice of its pixels.
BedBox shown_bed(const Camera& camera, double height_mm) {
  constexpr int kSteps = 32;  // along each of the picture's borders
  const double width = camera.lens.width_px - 1.0;
  const double height = camera.lens.height_px - 1.0;
  std::vector<std::pair<Vector2d, double>> points;
  std::vector<double> scales;
  for (int i = 0; i <= kSteps; ++i) {
    for (int j = 0; j <= kSteps; ++j) {
      const auto point = bed_point_at(camera, {width * i / kSteps, height * j / kSteps}, height_mm);
      if (!point) continue;
      const double scale = px_per_mm_at(camera, {point->mm.x(), point->mm.y(), height_mm});
      if (!(scale > 0.0)) continue;
      points.emplace_back(point->mm, scale);
      if (2 * std::abs(2 * i - kSteps) <= kSteps && 2 * std::abs(2 * j - kSteps) <= kSteps) scales.push_back(scale);
    }
  }
  BedBox box;
  if (scales.empty()) return box;
  const auto middle = scales.begin() + static_cast<std::ptrdiff_t>(scales.size() / 2);
  std::nth_element(scales.begin(), middle, scales.end());
  for (const auto& [mm, scale] : points) {
    if (scale < kSmallest * *middle) continue;
    box.low = box.low.cwiseMin(mm);
    box.high = box.high.cwiseMax(mm);
  }
  return box;
}

// The photo's position of every cell: exact on a lattice of cells, in between bilinear; so near to each other its
// curvature does not tell.
cv::Mat2f positions(const Camera& camera, const BedView& view, const cv::Size& size, double height_mm) {
  constexpr int kLattice = 8;  // cells: places between are interpolated
  const int columns = size.width / kLattice + 2;
  const int rows = size.height / kLattice + 2;
  constexpr float kNowhere = -1e4F;  // px: outside of every picture
  cv::Mat2f lattice(rows, columns);
  for (int i = 0; i < rows; ++i) {
    for (int j = 0; j < columns; ++j) {
      const Vector2d mm = view.bed_mm(Vector2d(kLattice * j, kLattice * i));
      const auto px = project_bed_point(camera, {mm.x(), mm.y(), height_mm});
      lattice(i, j) =
          px ? cv::Vec2f(static_cast<float>(px->x()), static_cast<float>(px->y())) : cv::Vec2f(kNowhere, kNowhere);
    }
  }
  cv::Mat2f at(size);
  for (int y = 0; y < size.height; ++y) {
    const int i = y / kLattice;
    const float v = static_cast<float>(y % kLattice) / kLattice;
    for (int x = 0; x < size.width; ++x) {
      const int j = x / kLattice;
      const float u = static_cast<float>(x % kLattice) / kLattice;
      const std::array<cv::Vec2f, 4> corners{lattice(i, j), lattice(i, j + 1), lattice(i + 1, j),
                                             lattice(i + 1, j + 1)};
      const bool somewhere =
          std::all_of(corners.begin(), corners.end(), [](const cv::Vec2f& px) { return px[0] != kNowhere; });
      at(y, x) = somewhere ? (corners[0] * (1.0F - u) + corners[1] * u) * (1.0F - v) +
                                 (corners[2] * (1.0F - u) + corners[3] * u) * v
                           : cv::Vec2f(kNowhere, kNowhere);
    }
  }
  return at;
}

cv::Mat1f laid_flat(const cv::Mat1b& plane, const cv::Mat2f& at) {
  cv::Mat1f wide;
  plane.convertTo(wide, CV_32F);
  cv::Mat1f flat;
  cv::remap(wide, flat, at, cv::noArray(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  return flat;
}

cv::Mat2f in_chroma(const ChromaGrid& grid, const cv::Mat2f& at) {
  cv::Mat2f chroma(at.size());
  for (int y = 0; y < at.rows; ++y) {
    for (int x = 0; x < at.cols; ++x) {
      const cv::Vec2f& px = at(y, x);
      const Vector2d p = grid.position({static_cast<double>(px[0]), static_cast<double>(px[1])});
      chroma(y, x) = {static_cast<float>(p.x()), static_cast<float>(p.y())};
    }
  }
  return chroma;
}

}  // namespace

BedView bed_view(const Photo& photo, const Camera& camera, const BedViewOptions& options) {
  BedView view;
  const BedBox box = shown_bed(camera, options.height_mm);
  if (box.empty()) return view;
  view.origin_mm = box.low.array() - options.beyond_mm;
  const Vector2d extent_mm = (box.high - box.low).array() + 2.0 * options.beyond_mm;
  view.mm_per_cell = std::max(options.mm_per_cell, std::sqrt(extent_mm.prod() / kMostCells));
  const cv::Size size(static_cast<int>(extent_mm.x() / view.mm_per_cell) + 1,
                      static_cast<int>(extent_mm.y() / view.mm_per_cell) + 1);
  // about two pixels to a cell, so that nothing is passed over
  const Vector2d middle = 0.5 * (box.low + box.high);
  const double px_per_cell = view.mm_per_cell * px_per_mm_at(camera, {middle.x(), middle.y(), options.height_mm});
  const int shrink = std::max(1, static_cast<int>(px_per_cell / 1.5));
  const Photo coarse = shrunk(photo, shrink);
  const Camera coarse_camera = shrunk(camera, shrink);
  const cv::Mat2f at = positions(coarse_camera, view, size, options.height_mm);
  view.seen = cv::Mat1b(size);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const cv::Vec2f& px = at(y, x);
      const bool inside = px[0] >= 0.0F && px[1] >= 0.0F && px[0] <= static_cast<float>(coarse.width_px() - 1) &&
                          px[1] <= static_cast<float>(coarse.height_px() - 1);
      view.seen(y, x) = inside ? 255 : 0;
    }
  }
  std::array<cv::Mat, 3> planes{laid_flat(coarse.luma, at), cv::Mat1f::zeros(size), cv::Mat1f::zeros(size)};
  if (coarse.has_colour()) {
    const cv::Mat2f chroma_at = in_chroma(coarse.chroma, at);
    planes[1] = laid_flat(coarse.cb, chroma_at) - 128.0;
    planes[2] = laid_flat(coarse.cr, chroma_at) - 128.0;
  }
  cv::merge(planes.data(), planes.size(), view.picture);
  return view;
}

}  // namespace jigtrue
