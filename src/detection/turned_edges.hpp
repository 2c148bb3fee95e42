// The edges of a view from above along one direction, summed so that those of any stretch of a row are a difference.
#pragma once
#include "jigtrue/detection/edge_picture.hpp"
#include "jigtrue/detection/strip.hpp"
#include "jigtrue/geometry/types.hpp"

#include <array>
#include <cstddef>
#include <vector>

#include <opencv2/core.hpp>

namespace jigtrue {

// Memory that a worker keeps from direction to direction.
class ScratchPictures {
 public:
  // Of this size; what they hold is of no meaning.
  [[nodiscard]] cv::Mat1f take(int rows, int columns);
  [[nodiscard]] cv::Mat3f take_edges(int rows, int columns);
  void give_all_back() { used_ = 0; }

 private:
  std::vector<std::vector<float>> pieces_;
  std::size_t used_ = 0;
  float* next(std::size_t count);
};

// In a picture turned so that the direction is its rows'.
class TurnedEdges {
 public:
  // `reach`: columns beside the picture that a stretch may reach into. `edges` and `scratch` must outlive this.
  TurnedEdges(const EdgePicture& edges, double heading_rad, int reach, ScratchPictures& scratch);
  [[nodiscard]] int columns() const { return columns_; }
  [[nodiscard]] int rows() const { return rows_; }
  [[nodiscard]] Vector2d cell(double column, double row) const;  // of the view

  // Adds a stretch of one side's row to sums of three channels, for every column that the blank's middle may lie in.
  void add_stretch(int row, int from, int to, std::array<std::vector<float>, kChannels>& sums) const;
  // Support of an end at this column between two rows.
  [[nodiscard]] float end_support(int column, int low, int high) const;

 private:
  const EdgePicture& edges_;
  int columns_ = 0;
  int rows_ = 0;
  int reach_ = 0;
  cv::Matx23d turn_;
  std::array<cv::Mat1f, kChannels> along_rows_;

  void sum_rows(const cv::Mat3f& turned);
};

}  // namespace jigtrue
