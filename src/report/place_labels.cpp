#include "report/place_labels.hpp"

#include <cmath>
#include <limits>
#include <optional>

#include <opencv2/imgproc.hpp>

namespace jigtrue {

namespace {

constexpr int kCell_px = 8;  // of the map of taken ground
constexpr int kDirections = 16;
constexpr double kGap_px = 9.0;
constexpr double kBeyond_px = 20'000.0;  // beyond any picture that is drawn

// Summed-area table (Crow 1984) of the shapes' cells.
cv::Mat1i taken_ground(const std::vector<LabelWish>& wishes, const cv::Size& picture) {
  cv::Mat1b taken = cv::Mat1b::zeros(picture.height / kCell_px + 1, picture.width / kCell_px + 1);
  for (const LabelWish& wish : wishes) {
    std::vector<cv::Point> points;
    points.reserve(wish.shape.size());
    for (const Vector2d& point : wish.shape) {
      const Vector2d near = point.cwiseMax(-kBeyond_px).cwiseMin(kBeyond_px) / kCell_px;
      points.emplace_back(static_cast<int>(near.x()), static_cast<int>(near.y()));
    }
    if (points.size() < 3) continue;
    std::vector<cv::Point> hull;
    cv::convexHull(points, hull);
    cv::fillConvexPoly(taken, hull, cv::Scalar(1));
  }
  cv::Mat1i sums;
  cv::integral(taken, sums, CV_32S);
  return sums;
}

double taken_share(const cv::Mat1i& sums, const cv::Rect& area) {
  const int x0 = area.x / kCell_px;
  const int y0 = area.y / kCell_px;
  const int x1 = std::min((area.x + area.width) / kCell_px + 1, sums.cols - 1);
  const int y1 = std::min((area.y + area.height) / kCell_px + 1, sums.rows - 1);
  const double cells = std::max(1, (x1 - x0) * (y1 - y0));
  return (sums(y1, x1) - sums(y0, x1) - sums(y1, x0) + sums(y0, x0)) / cells;
}

cv::Rect around(const Vector2d& centre, const cv::Size& size) {
  const Vector2d near = centre.cwiseMax(-kBeyond_px).cwiseMin(kBeyond_px);  // whole numbers hold no more
  return {static_cast<int>(std::lround(near.x() - size.width / 2.0)),
          static_cast<int>(std::lround(near.y() - size.height / 2.0)), size.width, size.height};
}

struct Choice {
  cv::Rect area;
  double cost = std::numeric_limits<double>::infinity();
};

class Ground {
 public:
  Ground(const std::vector<LabelWish>& wishes, const cv::Size& picture)
      : picture_(0, 0, picture.width, picture.height), sums_(taken_ground(wishes, picture)) {}

  // The cheapest place within so many rings about the anchors; nothing when each is off the picture or on a label.
  [[nodiscard]] std::optional<cv::Rect> best(const Polyline2d& anchors, const cv::Size& size, int rings) const {
    Choice choice;
    double handicap = 0.0;
    for (const Vector2d& anchor : anchors) {
      consider_around(choice, anchor, size, rings, handicap);
      handicap = 0.3;
    }
    if (!std::isfinite(choice.cost)) return std::nullopt;
    return choice.area;
  }

  void take(const cv::Rect& area) { labels_.push_back(area); }

  [[nodiscard]] cv::Rect pushed_inside(cv::Rect area) const {
    area.x = std::max(0, std::min(area.x, picture_.width - area.width));
    area.y = std::max(0, std::min(area.y, picture_.height - area.height));
    return area;
  }

 private:
  // First where the anchor lies in the label, sliding along it; then ever farther out in every direction.
  void consider_around(Choice& choice, const Vector2d& anchor, const cv::Size& size, int rings, double handicap) const {
    for (const double slide : {0.0, 0.5, -0.5})
      consider(choice, anchor, anchor + Vector2d(slide * size.width, 0), size, handicap);
    for (int ring = 0; ring < rings; ++ring) {
      for (int k = 0; k < kDirections; ++k) {
        const double angle = 2.0 * kPi * k / kDirections;
        const Vector2d toward = unit_vector(angle);
        const Vector2d beside(toward.x() * (size.width / 2.0 + kGap_px), toward.y() * (size.height / 2.0 + kGap_px));
        consider(choice, anchor, anchor + beside + toward * (ring * size.height * 0.5), size, handicap);
      }
    }
  }

  void consider(Choice& choice, const Vector2d& anchor, const Vector2d& centre, const cv::Size& size,
                double handicap) const {
    const cv::Rect area = around(centre, size);
    if ((area & picture_) != area) return;
    for (const cv::Rect& label : labels_) {
      if ((area & label).area() > 0) return;
    }
    // beyond the nearest edge rather than the centre: a long label beside a blank is near it
    const double dx = std::max(0.0, std::abs(centre.x() - anchor.x()) - size.width / 2.0);
    const double dy = std::max(0.0, std::abs(centre.y() - anchor.y()) - size.height / 2.0);
    constexpr double kCoverCost = 25.0;  // covering 4 % of the label is worth going a label's height further
    const double cost = std::hypot(dx, dy) / size.height + kCoverCost * taken_share(sums_, area) + handicap;
    if (cost < choice.cost) choice = {area, cost};
  }

  cv::Rect picture_;
  cv::Mat1i sums_;
  std::vector<cv::Rect> labels_;
};

}  // namespace

std::vector<LabelPlace> place_labels(const std::vector<LabelWish>& wishes, const cv::Size& picture) {
  constexpr int kNear = 7;
  constexpr int kAnywhere = 80;
  Ground ground(wishes, picture);
  std::vector<LabelPlace> places;
  for (const LabelWish& wish : wishes) {
    LabelPlace place;
    if (const auto full = ground.best(wish.anchors, wish.full, kNear)) {
      place = {*full, false};
    } else if (const auto brief = ground.best(wish.anchors, wish.brief, kAnywhere)) {
      place = {*brief, true};
    } else if (!wish.anchors.empty()) {
      place = {ground.pushed_inside(around(wish.anchors.front(), wish.brief)), true};
    }
    ground.take(place.area);
    places.push_back(place);
  }
  return places;
}

}  // namespace jigtrue
