#include "measurement/moved_photo.hpp"

#include <algorithm>

#include <opencv2/imgproc.hpp>

namespace jigtrue::registration {
namespace {

struct Move {
  const PlanePair& pair;
  const Level& level;
  const Motion& motion;
  const cv::Mat1f& light_ratio;
  const cv::Rect& known;
};

// `grid`: of a chroma plane; none: luma. `zero`: the value that no light makes.
cv::Mat1b moved_plane(const Move& m, const cv::Mat1b& plane, const ChromaGrid* grid, double zero) {
  const double s = m.pair.pixels.shrink;
  // in px of the plane: from each of its pixels to the luma's, there the motion, and back
  cv::Mat1b out = plane.clone();
  const Vector2d pixels = grid != nullptr ? grid->pixels : Vector2d(1.0, 1.0);
  const Vector2d lead = grid != nullptr ? grid->lead_px : Vector2d(0.0, 0.0);
  const cv::Rect part(static_cast<int>(m.known.x / pixels.x()), static_cast<int>(m.known.y / pixels.y()),
                      static_cast<int>(m.known.width / pixels.x()), static_cast<int>(m.known.height / pixels.y()));
  const cv::Rect inside = part & cv::Rect(0, 0, plane.cols, plane.rows);
  cv::Mat1f x(inside.size());
  cv::Mat1f y(inside.size());
  cv::Mat1f light(inside.size());
  for (int r = 0; r < inside.height; ++r)
    for (int c = 0; c < inside.width; ++c) {
      const Vector2d luma_px =
          (Vector2d(c + inside.x, r + inside.y).array() + 0.5) * pixels.array() - 0.5 - lead.array();
      const int i = std::clamp(static_cast<int>((luma_px.y() + 0.5) / s) - m.pair.roi().y, 0, m.pair.roi().height - 1);
      const int j = std::clamp(static_cast<int>((luma_px.x() + 0.5) / s) - m.pair.roi().x, 0, m.pair.roi().width - 1);
      Vector2d by = Vector2d::Zero();
      for (std::size_t k = 0; k < 3; ++k)
        by += s * m.motion[static_cast<Eigen::Index>(k)] *
              Vector2d(value_at(m.level.by_x[k], i, j), value_at(m.level.by_y[k], i, j));
      x(r, c) = static_cast<float>(c + inside.x - by.x() / pixels.x());
      y(r, c) = static_cast<float>(r + inside.y - by.y() / pixels.y());
      light(r, c) = m.light_ratio(i, j);
    }
  cv::Mat1b moved;
  cv::remap(plane, moved, x, y, cv::INTER_CUBIC, cv::BORDER_REPLICATE);
  for (int r = 0; r < inside.height; ++r)
    for (int c = 0; c < inside.width; ++c)
      out(r + inside.y, c + inside.x) =
          cv::saturate_cast<unsigned char>(zero + value_at(light, r, c) * (moved(r, c) - zero));
  return out;
}

}  // namespace

MovedPhoto moved_photo(const Photo& empty, const PlanePair& pair, const Level& level, const Motion& motion,
                       const cv::Mat1f& light_ratio) {
  const auto s = static_cast<int>(pair.pixels.shrink);
  const cv::Rect& roi = pair.roi();
  MovedPhoto moved;
  moved.known = cv::Rect(roi.x * s, roi.y * s, roi.width * s, roi.height * s) &
                cv::Rect(0, 0, empty.width_px(), empty.height_px());
  moved.photo = empty;
  const Move move{pair, level, motion, light_ratio, moved.known};
  moved.photo.luma = moved_plane(move, empty.luma, nullptr, 0.0);
  if (!empty.has_colour()) return moved;
  moved.photo.cb = moved_plane(move, empty.cb, &empty.chroma, 128.0);
  moved.photo.cr = moved_plane(move, empty.cr, &empty.chroma, 128.0);
  return moved;
}

}  // namespace jigtrue::registration
