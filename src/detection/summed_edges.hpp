// The edges of a view from above in rows along one direction, summed so that those of any side and of any end are a
// difference.
#pragma once
#include "jigtrue/detection/edge_picture.hpp"
#include "jigtrue/detection/strip.hpp"

#include <array>
#include <vector>

#include <opencv2/core.hpp>

namespace jigtrue {

struct CellRange {
  int low = 0;
  int high = 0;
};

struct SummedEdges {
  cv::Mat3f along_rows;                           // of edges that run along the rows, up to and without this column
  std::array<cv::Mat1f, kChannels> down_columns;  // of edges that run down the columns, up to and without this row
  std::vector<std::vector<CellRange>> beside;     // of each row: columns about which a side may run along it
  cv::Matx23d turn;                               // cell of the view, of a cell here
  [[nodiscard]] int rows() const { return along_rows.rows; }
  [[nodiscard]] int columns() const { return along_rows.cols - 1; }
};

inline constexpr float kLeastSide = 0.3F;  // support of a side, of 1: fainter ones are grain

// `shortest`: of a blank's sides, cells.
[[nodiscard]] SummedEdges summed_edges(const EdgePicture& edges, double heading_rad, int shortest);

// An end of a blank whose sides run along two rows.
struct EndAt {
  int column = 0;
  float support = 0.0F;
};

// Those between two rows; with room that is kept from one pair of rows to the next.
struct EndsBetween {
  std::vector<EndAt> ends;
  std::vector<float> support;
};
void find_ends(const SummedEdges& edges, int low, int high, EndsBetween& between);

}  // namespace jigtrue
