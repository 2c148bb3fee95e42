#include "report/photo_part.hpp"

#include "jigtrue/image/write_picture.hpp"

#include <algorithm>
#include <cmath>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

cv::Rect part_of(const Photo& photo, const PhotoExtent& extent, double room) {
  const cv::Rect all(0, 0, photo.width_px(), photo.height_px());
  if (!(extent.low.x() < extent.high.x() && extent.low.y() < extent.high.y())) return all;
  const double beside = room * (extent.high - extent.low).maxCoeff();
  const Vector2d from = extent.low.array() - beside;
  const Vector2d size = (extent.high - extent.low).array() + 2.0 * beside;
  const cv::Rect part = cv::Rect2d(from.x(), from.y(), size.x(), size.y()) & cv::Rect2d(all);
  return part.empty() ? all : part;
}

}  // namespace

void PhotoExtent::add(const Polyline2d& points) {
  for (const Vector2d& point : points) {
    if (!point.allFinite()) continue;
    low = low.cwiseMin(point);
    high = high.cwiseMax(point);
  }
}

PhotoPart photo_part(const Photo& photo, const PhotoExtent& extent, double room, double side_px) {
  const cv::Rect part = part_of(photo, extent, room);
  const double scale = std::min(1.0, side_px / std::max(part.width, part.height));
  // the whole photo shrunk first: a part's chroma need not begin where its luma does
  const ShrunkPicture whole =
      shrink(photo, static_cast<int>(std::lround(scale * std::max(photo.width_px(), photo.height_px()))));
  const cv::Rect cut = cv::Rect(cv::Point(cvRound(part.x * whole.scale), cvRound(part.y * whole.scale)),
                                cv::Size(cvRound(part.width * whole.scale), cvRound(part.height * whole.scale))) &
                       cv::Rect(cv::Point(), whole.bgr.size());
  const cv::Mat3b bgr = whole.bgr(cut);
  const Vector2d origin(cut.x, cut.y);
  if (2.0 * std::max(cut.width, cut.height) > side_px) return {bgr.clone(), whole.scale, origin};
  // lines and letters on it are then finer than its pixels
  cv::Mat3b larger;
  cv::resize(bgr, larger, cv::Size(), 2.0, 2.0, cv::INTER_CUBIC);
  return {larger, 2.0 * whole.scale, 2.0 * origin};
}

}  // namespace jigtrue
