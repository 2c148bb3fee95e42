#include "jigtrue/image/board_look.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

namespace jigtrue {
namespace {

using LookPlace = std::pair<int, int>;  // column, row

double grey_between(const cv::Mat1b& luma, const Vector2d& px) {
  const double x = std::clamp(px.x(), 0.0, luma.cols - 1.001);
  const double y = std::clamp(px.y(), 0.0, luma.rows - 1.001);
  const int left = static_cast<int>(x);
  const int top = static_cast<int>(y);
  const double u = x - left;
  const double v = y - top;
  return (1.0 - v) * ((1.0 - u) * luma(top, left) + u * luma(top, left + 1)) +
         v * ((1.0 - u) * luma(top + 1, left) + u * luma(top + 1, left + 1));
}

struct BoardField {
  Vector2d middle = Vector2d::Zero();
  double level = 0.0;
  bool even = false;  // column + row
};

double level_about(const cv::Mat1b& luma, const std::array<Vector2d, 4>& corners) {
  const Vector2d middle = (corners[0] + corners[1] + corners[2] + corners[3]) / 4.0;
  double sum = 0.0;
  int count = 0;
  for (const Vector2d& corner : corners)
    for (const double share : {0.1, 0.25, 0.4}) {
      sum += grey_between(luma, middle + share * (corner - middle));
      ++count;
    }
  return sum / count;
}

// From 10 to 90 % of the step from one field's inside to the other's; nothing when there is no clear step.
std::optional<double> edge_width(const cv::Mat1b& luma, const Vector2d& from, const Vector2d& to) {
  constexpr double kInside = 0.4;  // of a field's side
  constexpr double kClear = 20.0;  // grey levels
  constexpr double kStep_px = 0.25;
  const Vector2d along = to - from;
  const double side = along.norm();
  const Vector2d across = Vector2d(-along.y(), along.x()) / side;
  const auto mean_at = [&](double t) {
    double sum = 0.0;
    for (const double share : {0.35, 0.45, 0.5, 0.55, 0.65})
      sum += grey_between(luma, from + share * along + t * across);
    return sum / 5.0;
  };
  const double reach = kInside * side;
  const double low = mean_at(-reach);
  const double high = mean_at(reach);
  if (std::abs(high - low) < kClear) return std::nullopt;
  // where the share was last below a tenth, and first above nine tenths, straight between the samples
  std::optional<double> tenth;
  double before = 0.0;
  for (double t = -reach; t <= reach; t += kStep_px) {
    const double share = (mean_at(t) - low) / (high - low);
    const auto crossing = [&](double level) { return t - kStep_px * (share - level) / (share - before); };
    if (before < 0.1 && share >= 0.1) tenth = crossing(0.1);
    if (share >= 0.9) return tenth ? std::optional<double>(crossing(0.9) - *tenth) : std::nullopt;
    before = share;
  }
  return std::nullopt;
}

double median_or_zero(std::vector<double> values) { return median(std::move(values)).value_or(0.0); }

}  // namespace

std::optional<BoardLook> look_at_board(const cv::Mat1b& luma, const BoardCorners& corners) {
  std::map<LookPlace, Vector2d> at;
  for (std::size_t i = 0; i < corners.px.size(); ++i) {
    const GridPlace place = corners.place(i);
    at[{place.column, place.row}] = corners.px[i];
  }
  const auto corner = [&](int column, int row) -> const Vector2d* {
    const auto found = at.find({column, row});
    return found == at.end() ? nullptr : &found->second;
  };
  std::vector<BoardField> fields;
  std::vector<double> widths;
  std::vector<double> sides;
  for (const auto& [place, px] : at) {
    const auto [column, row] = place;
    const Vector2d* right = corner(column + 1, row);
    const Vector2d* up = corner(column, row + 1);
    const Vector2d* across = corner(column + 1, row + 1);
    for (const Vector2d* next : {right, up}) {
      if (next == nullptr) continue;
      sides.push_back((*next - px).norm());
      if (const auto width = edge_width(luma, px, *next)) widths.push_back(*width);
    }
    if (right == nullptr || up == nullptr || across == nullptr) continue;
    const std::array<Vector2d, 4> around = {px, *right, *across, *up};
    fields.push_back({(px + *across + *right + *up) / 4.0, level_about(luma, around), (column + row) % 2 == 0});
  }
  constexpr std::size_t kFewest = 4;
  if (fields.size() < kFewest) return std::nullopt;
  const auto level_of = [&](bool even) {
    std::vector<double> levels;
    for (const BoardField& field : fields)
      if (field.even == even) levels.push_back(field.level);
    return median_or_zero(levels);
  };
  const double even = level_of(true);
  const double odd = level_of(false);
  BoardLook look;
  look.white = std::max(even, odd);
  look.black = std::min(even, odd);
  look.edge_px = median_or_zero(widths);
  look.field_px = median_or_zero(sides);
  look.fields = static_cast<int>(fields.size());
  for (const BoardField& field : fields) {
    const bool black = field.even == (even < odd);
    if (!black || field.level < 0.5 * (look.white + look.black)) continue;
    ++look.washed_out;
    look.washed_out_px += field.middle;
  }
  if (look.washed_out > 0) look.washed_out_px /= look.washed_out;
  return look;
}

double bright_level(const cv::Mat1b& luma) {
  std::array<long, 256> counts{};
  for (int y = 0; y < luma.rows; y += 4)
    for (int x = 0; x < luma.cols; x += 4) ++counts[luma(y, x)];
  long all = 0;
  for (const long count : counts) all += count;
  long above = 0;
  for (int level = 255; level >= 0; --level) {
    above += counts[static_cast<std::size_t>(level)];
    if (10 * above >= all) return level;
  }
  return 0.0;
}

}  // namespace jigtrue
