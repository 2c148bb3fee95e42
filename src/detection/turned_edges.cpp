#include "detection/turned_edges.hpp"

#include <cmath>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace jigtrue {

cv::Mat1f ScratchPictures::take(int rows, int columns) {
  return cv::Mat1f(rows, columns, next(static_cast<std::size_t>(rows) * static_cast<std::size_t>(columns)));
}

cv::Mat3f ScratchPictures::take_edges(int rows, int columns) {
  return cv::Mat3f(
      rows, columns,
      reinterpret_cast<cv::Vec3f*>(next(3 * static_cast<std::size_t>(rows) * static_cast<std::size_t>(columns))));
}

float* ScratchPictures::next(std::size_t count) {
  if (used_ == pieces_.size()) pieces_.emplace_back();
  std::vector<float>& piece = pieces_[used_++];
  if (piece.size() < count) piece.resize(count);
  return piece.data();
}

TurnedEdges::TurnedEdges(const EdgePicture& edges, double heading_rad, int reach, ScratchPictures& scratch)
    : edges_(edges), reach_(reach) {
  const double c = std::cos(heading_rad);
  const double s = std::sin(heading_rad);
  const cv::Size size = edges.along_x.size();
  columns_ = static_cast<int>(std::ceil(std::abs(size.width * c) + std::abs(size.height * s))) + 1;
  rows_ = static_cast<int>(std::ceil(std::abs(size.width * s) + std::abs(size.height * c))) + 1;
  turn_ = cv::Matx23d(c, -s, 0.5 * (size.width - c * columns_ + s * rows_), s, c,
                      0.5 * (size.height - s * columns_ - c * rows_));
  cv::Mat3f slope = scratch.take_edges(size.height, size.width);
  cv::addWeighted(edges.along_x, -s, edges.along_y, c, 0.0, slope);
  cv::Mat3f turned = scratch.take_edges(rows_, columns_);
  cv::warpAffine(slope, turned, turn_, turned.size(), cv::INTER_NEAREST | cv::WARP_INVERSE_MAP);
  for (cv::Mat1f& sums : along_rows_) sums = scratch.take(rows_, columns_ + 1 + 2 * reach_);
  sum_rows(turned);
}

Vector2d TurnedEdges::cell(double column, double row) const {
  const cv::Vec2d at = turn_ * cv::Vec3d(column, row, 1.0);
  return {at[0], at[1]};
}

void TurnedEdges::add_stretch(int row, int from, int to, std::array<std::vector<float>, kChannels>& sums) const {
  if (row < 0 || row >= rows_) return;
  for (std::size_t ch = 0; ch < kChannels; ++ch) {
    const float* first = along_rows_[ch].ptr<float>(row) + reach_ + from;
    const float* last = along_rows_[ch].ptr<float>(row) + reach_ + to;
    // by Eigen, since a compiler at its usual setting takes such a loop one number at a time
    Eigen::Map<Eigen::ArrayXf>(sums[ch].data(), columns_) +=
        Eigen::Map<const Eigen::ArrayXf>(last, columns_) - Eigen::Map<const Eigen::ArrayXf>(first, columns_);
  }
}

float TurnedEdges::end_support(int column, int low, int high) const {
  cv::Vec3f sum(0.0F, 0.0F, 0.0F);
  const cv::Size size = edges_.along_x.size();
  for (int row = low; row <= high; ++row) {
    const auto x = static_cast<int>(std::lround(turn_(0, 0) * column + turn_(0, 1) * row + turn_(0, 2)));
    const auto y = static_cast<int>(std::lround(turn_(1, 0) * column + turn_(1, 1) * row + turn_(1, 2)));
    if (x < 0 || y < 0 || x >= size.width || y >= size.height) continue;
    sum +=
        edges_.along_x(y, x) * static_cast<float>(turn_(0, 0)) + edges_.along_y(y, x) * static_cast<float>(turn_(1, 0));
  }
  return std::sqrt(sum.dot(sum)) / static_cast<float>(high + 1 - low);
}

void TurnedEdges::sum_rows(const cv::Mat3f& turned) {
  for (int y = 0; y < rows_; ++y) {
    std::array<float*, kChannels> out{};
    for (std::size_t ch = 0; ch < kChannels; ++ch) out[ch] = along_rows_[ch].ptr<float>(y);
    cv::Vec3f sum(0.0F, 0.0F, 0.0F);
    const cv::Vec3f* in = turned.ptr<cv::Vec3f>(y);
    for (int x = -reach_; x <= columns_ + reach_; ++x) {
      for (int ch = 0; ch < kChannels; ++ch) out[static_cast<std::size_t>(ch)][x + reach_] = sum[ch];
      if (x >= 0 && x < columns_) sum += in[x];
    }
  }
}

}  // namespace jigtrue
