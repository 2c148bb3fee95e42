#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/detection/coarse_search.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "detection/outline_template.hpp"
#include "detection/proposed_outlines.hpp"
#include "detection/support_peaks.hpp"
#include "detection/turned_edges.hpp"
#include <Eigen/Dense>

namespace jigtrue {
namespace {

// Support of one side for every row and column that the blank's middle may lie in. `sign`: +1 left, -1 right.
cv::Mat1f side_support(const TurnedEdges& edges, const OutlineTemplate& outline, int sign, ScratchPictures& scratch) {
  cv::Mat1f support = scratch.take(edges.rows(), edges.columns());
  std::array<std::vector<float>, kChannels> sums;
  const float scale = 1.0F / static_cast<float>(outline.side_cells);
  for (int y = 0; y < edges.rows(); ++y) {
    for (auto& sum : sums) sum.assign(static_cast<std::size_t>(edges.columns()), 0.0F);
    for (const SidePiece& piece : outline.pieces)
      edges.add_stretch(y + sign * piece.radius, piece.from, piece.to, sums);
    const auto sum = [&](std::size_t ch) { return Eigen::Map<const Eigen::ArrayXf>(sums[ch].data(), edges.columns()); };
    Eigen::Map<Eigen::ArrayXf>(support.ptr<float>(y), edges.columns()) =
        scale * (sum(0).square() + sum(1).square() + sum(2).square()).sqrt();
  }
  return support;
}

// One direction's places, whose sides lie `wider` cells further out than declared.
std::vector<Peak> peaks_along(const TurnedEdges& edges, const OutlineTemplate& outline, const cv::Mat1f& left,
                              const cv::Mat1f& right, int wider, cv::Mat1f& support) {
  support.setTo(cv::Scalar(0.0));
  std::vector<cv::Point> worth;
  constexpr float kLeast = static_cast<float>(kWorthJudging * kWorthJudging);    // of the product of the two sides
  const int apart = outline.straight() ? 2 * outline.pieces.front().radius : 0;  // one side's rows serve both
  for (int y = 0; y < support.rows; ++y) {
    const int l = y + wider;
    const int r = y - wider - apart;
    if (std::min(l, r) < 0 || std::max(l, r) >= support.rows) continue;
    const float* left_row = left.ptr<float>(l);
    const float* right_row = right.ptr<float>(r);
    for (int x = 0; x < support.cols; ++x) {
      const float sides = left_row[x] * right_row[x];
      if (sides < kLeast) continue;
      const int start_radius = outline.start_radius + wider;
      const int end_radius = outline.end_radius + wider;
      const float ends = edges.end_support(x + outline.start, y - start_radius, y + start_radius) *
                         edges.end_support(x + outline.end, y - end_radius, y + end_radius);
      support(y, x) = static_cast<float>(
          whole_outline(std::sqrt(static_cast<double>(sides)), std::sqrt(static_cast<double>(ends))));
      worth.emplace_back(x, y);
    }
  }
  return peaks_of(support, worth);
}

// Over half a turn, so near each other that no blank is missed between them; with headings given, only near one of
// those.
std::vector<double> directions_to_try(const OutlineTemplate& outline, const std::vector<double>& headings_rad) {
  constexpr double kAskew = 1.4;         // cells, by which an end may lie off with the nearest of the directions
  constexpr double kMostTurn_deg = 4.0;  // between directions, however short the blank is
  const double step = std::min(2.0 * kAskew / std::max(outline.end, 1), rad_from_deg(kMostTurn_deg));
  const auto all = static_cast<std::size_t>(std::ceil(kPi / step));
  std::vector<double> directions;
  for (std::size_t k = 0; k < all; ++k) {
    const double heading = kPi * static_cast<double>(k) / static_cast<double>(all);
    const bool wanted = std::any_of(headings_rad.begin(), headings_rad.end(), [&](double near) {
      return std::abs(std::remainder(heading - near, kPi)) < 1.5 * step;
    });
    if (wanted || headings_rad.empty()) directions.push_back(heading);
  }
  return directions;
}

}  // namespace

std::vector<ProposedPlace> proposed_bars(const BedView& view, const EdgePicture& edges, const WantedOutline& wanted,
                                         const std::vector<double>& headings_rad, int threads) {
  const OutlineTemplate outline = outline_template(wanted.blank.shape, view.mm_per_cell);
  const std::vector<double> directions = directions_to_try(outline, headings_rad);
  std::vector<OutlineTemplate> ways = {outline};
  if (!outline.turns_alike) ways.push_back(reversed(outline));
  std::vector<std::vector<ProposedPlace>> found(directions.size());
  std::vector<ScratchPictures> kept_pictures(static_cast<std::size_t>(std::max(threads, 1)));
  in_parallel(directions.size(), threads, [&](std::size_t k, std::size_t worker) {
    ScratchPictures& scratch = kept_pictures[worker];
    scratch.give_all_back();
    const double heading = directions[k];
    const TurnedEdges turned(edges, heading, outline.end + 1, scratch);
    cv::Mat1f support = scratch.take(turned.rows(), turned.columns());
    for (std::size_t way = 0; way < ways.size(); ++way) {
      const cv::Mat1f left = side_support(turned, ways[way], +1, scratch);
      const cv::Mat1f right = outline.straight() ? left : side_support(turned, ways[way], -1, scratch);
      for (const int by : wanted.wider) {
        for (const Peak& peak : peaks_along(turned, ways[way], left, right, by, support)) {
          ProposedPlace here;
          here.support = peak.support;
          here.place.centre_mm = view.bed_mm(turned.cell(peak.column, peak.row));
          here.place.heading_rad = std::remainder(heading + kPi * static_cast<double>(way), 2.0 * kPi);
          here.place.girth_mm = 2.0 * by * view.mm_per_cell;
          found[k].push_back(here);
        }
      }
    }
  });
  std::vector<ProposedPlace> together;
  for (const auto& list : found) together.insert(together.end(), list.begin(), list.end());
  return together;
}

}  // namespace jigtrue
