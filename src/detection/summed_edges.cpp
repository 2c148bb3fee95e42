#include "detection/summed_edges.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

// Where a stretch of the row as long as the shortest blank's side shows an edge, and as far beyond as a side may lose
// its own before it ends.
std::vector<CellRange> ranges_beside(const cv::Vec3f* sums, int columns, int stretch) {
  constexpr int kFaded = 20;  // cells without support that end a side
  constexpr int kApart = 5;   // so that no end lies in two of them
  std::vector<CellRange> ranges;
  const float least = kLeastSide * static_cast<float>(stretch);
  for (int x = 0; x + stretch <= columns; ++x) {
    const cv::Vec3f sum = sums[x + stretch] - sums[x];
    if (sum.dot(sum) < least * least) continue;
    const CellRange here{std::max(x - kFaded, 0), std::min(x + stretch + kFaded, columns)};
    if (ranges.empty() || here.low > ranges.back().high + kApart)
      ranges.push_back(here);
    else
      ranges.back().high = here.high;
  }
  return ranges;
}

std::vector<CellRange> in_both(const std::vector<CellRange>& a, const std::vector<CellRange>& b) {
  std::vector<CellRange> both;
  for (std::size_t i = 0, j = 0; i < a.size() && j < b.size();) {
    const CellRange here{std::max(a[i].low, b[j].low), std::min(a[i].high, b[j].high)};
    if (here.low < here.high) both.push_back(here);
    (a[i].high < b[j].high ? i : j) += 1;
  }
  return both;
}

void add_ends(const SummedEdges& edges, int low, int high, const CellRange& columns, EndsBetween& found) {
  std::vector<float>& support = found.support;
  constexpr float kLeast = 0.3F;  // support, of 1
  constexpr int kNear = 2;        // cells: an end's edge is that wide
  const int first = std::max(columns.low - kNear, 0);
  const int last = std::min(columns.high + kNear, edges.columns());
  const auto between = [&](std::size_t ch) {
    using Row = Eigen::Map<const Eigen::ArrayXf>;
    const cv::Mat1f& sums = edges.down_columns[ch];
    return Row(sums.ptr<float>(high + 1) + first, last - first) - Row(sums.ptr<float>(low) + first, last - first);
  };
  Eigen::Map<Eigen::ArrayXf>(support.data() + first, last - first) =
      between(0).square() + between(1).square() + between(2).square();
  const float least = kLeast * static_cast<float>(high + 1 - low);
  const auto at = [&](int column) { return support[static_cast<std::size_t>(column)]; };
  for (int x = first + kNear; x < last - kNear; ++x) {
    const float here = at(x);
    if (here < least * least) continue;
    bool greatest = true;
    for (int d = 1; d <= kNear; ++d) greatest = greatest && at(x - d) < here && at(x + d) <= here;
    if (greatest) found.ends.push_back({x, std::sqrt(here) / static_cast<float>(high + 1 - low)});
  }
}

}  // namespace

SummedEdges summed_edges(const EdgePicture& edges, double heading_rad, int shortest) {
  SummedEdges summed;
  const double c = std::cos(heading_rad);
  const double s = std::sin(heading_rad);
  const cv::Size size = edges.along_x.size();
  const int columns = static_cast<int>(std::ceil(std::abs(size.width * c) + std::abs(size.height * s))) + 1;
  const int rows = static_cast<int>(std::ceil(std::abs(size.width * s) + std::abs(size.height * c))) + 1;
  summed.turn = cv::Matx23d(c, -s, 0.5 * (size.width - c * columns + s * rows), s, c,
                            0.5 * (size.height - s * columns - c * rows));
  const auto turned = [&](double by_x, double by_y) {
    cv::Mat3f slope;
    cv::addWeighted(edges.along_x, by_x, edges.along_y, by_y, 0.0, slope);
    cv::Mat3f result;
    cv::warpAffine(slope, result, summed.turn, {columns, rows}, cv::INTER_NEAREST | cv::WARP_INVERSE_MAP);
    return result;
  };
  const cv::Mat3f of_sides = turned(-s, c);
  const cv::Mat3f of_ends = turned(c, s);
  summed.along_rows = cv::Mat3f(rows, columns + 1);
  for (cv::Mat1f& sums : summed.down_columns) sums = cv::Mat1f::zeros(rows + 1, columns);
  summed.beside.resize(static_cast<std::size_t>(rows));
  for (int y = 0; y < rows; ++y) {
    cv::Vec3f sum(0.0F, 0.0F, 0.0F);
    for (int x = 0; x < columns; ++x) {
      summed.along_rows(y, x) = sum;
      sum += of_sides(y, x);
      for (int ch = 0; ch < kChannels; ++ch) {
        cv::Mat1f& sums = summed.down_columns[static_cast<std::size_t>(ch)];
        sums(y + 1, x) = sums(y, x) + of_ends(y, x)[ch];
      }
    }
    summed.along_rows(y, columns) = sum;
    summed.beside[static_cast<std::size_t>(y)] = ranges_beside(summed.along_rows.ptr<cv::Vec3f>(y), columns, shortest);
  }
  return summed;
}

void find_ends(const SummedEdges& edges, int low, int high, EndsBetween& between) {
  between.ends.clear();
  between.support.resize(static_cast<std::size_t>(edges.columns()));
  for (const CellRange& both :
       in_both(edges.beside[static_cast<std::size_t>(low)], edges.beside[static_cast<std::size_t>(high)]))
    add_ends(edges, low, high, both, between);
}

}  // namespace jigtrue
