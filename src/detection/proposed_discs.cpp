#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/detection/coarse_search.hpp"

#include <array>
#include <cmath>
#include <cstddef>

#include "detection/proposed_outlines.hpp"
#include "detection/support_peaks.hpp"
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

// The rim of a disc, by quadrants: each one's edges, as far out as the radius, brought to its middle.
cv::Mat1f rim_support(const EdgePicture& edges, double radius_cells) {
  constexpr int kDirections = 32;  // round the rim: 11 degrees apart
  const cv::Size size = edges.along_x.size();
  std::array<cv::Mat3f, kOutlineParts> sums;
  for (cv::Mat3f& sum : sums) sum = cv::Mat3f::zeros(size);
  for (int k = 0; k < kDirections; ++k) {
    const double angle = 2.0 * kPi * (k + 0.5) / kDirections;
    const double c = std::cos(angle);
    const double s = std::sin(angle);
    const int dx = static_cast<int>(std::lround(radius_cells * c));
    const int dy = static_cast<int>(std::lround(radius_cells * s));
    const cv::Rect whole({0, 0}, size);
    const cv::Rect rim = whole & (whole + cv::Point(dx, dy));
    if (rim.empty()) continue;
    cv::Mat3f outward;
    cv::addWeighted(edges.along_x(rim), c, edges.along_y(rim), s, 0.0, outward);
    cv::Mat3f sum = sums[static_cast<std::size_t>(k / (kDirections / kOutlineParts))](rim - cv::Point(dx, dy));
    sum += outward;
  }
  cv::Mat1f support = cv::Mat1f::zeros(size);
  constexpr float kShare = 1.0F / kDirections;  // of one of them
  for (const cv::Mat3f& sum : sums)
    for (int y = 0; y < size.height; ++y)
      for (int x = 0; x < size.width; ++x) support(y, x) += kShare * std::sqrt(sum(y, x).dot(sum(y, x)));
  return support;
}

}  // namespace

std::vector<ProposedPlace> proposed_discs(const BedView& view, const EdgePicture& edges, const WantedOutline& wanted,
                                          int threads) {
  const std::vector<int>& wider = wanted.wider;
  const double diameter_cells = largest_girth_mm(wanted.blank.shape) / view.mm_per_cell;
  std::vector<std::vector<ProposedPlace>> found(wider.size());
  in_parallel(wider.size(), threads, [&](std::size_t k, std::size_t) {
    const cv::Mat1f support = rim_support(edges, 0.5 * diameter_cells + wider[k]);
    std::vector<cv::Point> worth;
    for (int y = 0; y < support.rows; ++y)
      for (int x = 0; x < support.cols; ++x)
        if (static_cast<double>(support(y, x)) >= kWorthJudging) worth.emplace_back(x, y);
    for (const Peak& peak : peaks_of(support, worth)) {
      ProposedPlace here;
      here.support = whole_outline(peak.support, peak.support);
      here.place.centre_mm = view.bed_mm({peak.column, peak.row});
      here.place.girth_mm = 2.0 * wider[k] * view.mm_per_cell;
      found[k].push_back(here);
    }
  });
  std::vector<ProposedPlace> together;
  for (const auto& list : found) together.insert(together.end(), list.begin(), list.end());
  return together;
}

}  // namespace jigtrue
