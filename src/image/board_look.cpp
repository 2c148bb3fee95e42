#include "jigtrue/image/board_look.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/image/sensor_range.hpp"

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
  LookPlace place;
  Vector2d middle = Vector2d::Zero();
  double level = 0.0;
  bool even = false;   // column + row
  bool found = false;  // all four of its corners
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
  constexpr double kInside = 0.4;    // of a field's side
  constexpr double kClear = 20.0;    // grey levels
  constexpr double kStep_px = 0.25;  // a step's place is told to half of it
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

// The corners that were found, and those that one of their lines foresees within the part of the board that was seen;
// of a whole board its outer squares' too.
std::map<LookPlace, Vector2d> with_lost_corners(const std::map<LookPlace, Vector2d>& found, bool whole) {
  std::map<LookPlace, Vector2d> all = found;
  constexpr std::array<LookPlace, 4> kSteps = {LookPlace{1, 0}, LookPlace{0, 1}, LookPlace{-1, 0}, LookPlace{0, -1}};
  const int first = whole ? -1 : 0;
  int last_column = 0;
  int last_row = 0;
  for (const auto& [place, px] : found) {
    last_column = std::max(last_column, place.first - first);
    last_row = std::max(last_row, place.second - first);
  }
  for (int round = 0; round < 3; ++round) {
    std::map<LookPlace, Vector2d> more;
    for (const auto& [place, px] : all)
      for (const auto& [dx, dy] : kSteps) {
        const LookPlace next{place.first + dx, place.second + dy};
        const auto before = all.find({place.first - dx, place.second - dy});
        if (before == all.end() || all.count(next) != 0 || next.first < first || next.second < first ||
            next.first > last_column || next.second > last_row)
          continue;
        more.emplace(next, 2.0 * px - before->second);
      }
    all.merge(more);
  }
  return all;
}

// The fields that lie between four corners within the picture.
std::vector<BoardField> fields_between(const cv::Mat1b& luma, const std::map<LookPlace, Vector2d>& corners,
                                       const std::map<LookPlace, Vector2d>& found) {
  std::vector<BoardField> fields;
  for (const auto& [place, px] : corners) {
    const auto [column, row] = place;
    const std::array<LookPlace, 4> around = {place, {column + 1, row}, {column + 1, row + 1}, {column, row + 1}};
    BoardField field;
    field.place = place;
    field.even = (column + row) % 2 == 0;
    field.found = true;
    bool whole = true;
    std::array<Vector2d, 4> at;
    for (std::size_t k = 0; k < around.size(); ++k) {
      const auto corner = corners.find(around[k]);
      whole = whole && corner != corners.end() && corner->second.x() > -0.5 && corner->second.y() > -0.5 &&
              corner->second.x() < luma.cols - 0.5 && corner->second.y() < luma.rows - 0.5;
      if (!whole) break;
      at[k] = corner->second;
      field.found = field.found && found.count(around[k]) != 0;
    }
    if (!whole) continue;
    field.middle = (at[0] + at[1] + at[2] + at[3]) / 4.0;
    field.level = level_about(luma, at);
    fields.push_back(field);
  }
  return fields;
}

// A lamp's image over paper fills the sensor where the paper about it does not; light that falls off does not end from
// one square to the next.
bool outshines_paper(const BoardField& field, const std::vector<BoardField>& fields, double contrast) {
  constexpr int kAbout = 2;       // squares
  constexpr double kStep = 0.25;  // of the contrast
  if (field.level < kSensorFull) return false;
  std::vector<double> about;
  for (const BoardField& other : fields)
    if (other.even == field.even && other.place != field.place &&
        std::abs(other.place.first - field.place.first) <= kAbout &&
        std::abs(other.place.second - field.place.second) <= kAbout)
      about.push_back(other.level);
  const auto usual = median(std::move(about));
  return usual && *usual < kSensorFull - kStep * contrast;
}

double median_or_zero(std::vector<double> values) { return median(std::move(values)).value_or(0.0); }

}  // namespace

std::optional<BoardLook> look_at_board(const cv::Mat1b& luma, const BoardCorners& corners) {
  std::map<LookPlace, Vector2d> at;
  for (std::size_t i = 0; i < corners.px.size(); ++i) {
    const GridPlace place = corners.place(i);
    at[{place.column, place.row}] = corners.px[i];
  }
  std::vector<double> widths;
  std::vector<double> sides;
  for (const auto& [place, px] : at)
    for (const auto& [dx, dy] : {LookPlace{1, 0}, LookPlace{0, 1}}) {
      const auto next = at.find({place.first + dx, place.second + dy});
      if (next == at.end()) continue;
      sides.push_back((next->second - px).norm());
      if (const auto width = edge_width(luma, px, next->second)) widths.push_back(*width);
    }
  std::vector<BoardField> fields;
  std::vector<BoardField> lost;
  for (const BoardField& field : fields_between(luma, with_lost_corners(at, corners.whole), at))
    (field.found ? fields : lost).push_back(field);
  constexpr std::size_t kFewest = 4;  // fields
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
  const auto wash_out = [&](const BoardField& field) {
    ++look.washed_out;
    look.washed_out_px += field.middle;
  };
  const auto black = [&](const BoardField& field) { return field.even == (even < odd); };
  for (const BoardField& field : fields)
    if (black(field) ? field.level >= 0.5 * (look.white + look.black)
                     : outshines_paper(field, fields, look.white - look.black))
      wash_out(field);
  // Black, and as bright as paper: no hand and no label is, where a lamp's image takes the corners away. An outer
  // square's corners are foreseen less surely, by a bent lens beside the board: there the sensor must be full.
  LookPlace last{0, 0};
  for (const auto& [place, px] : at) last = {std::max(last.first, place.first), std::max(last.second, place.second)};
  const auto outer = [&](const LookPlace& place) {
    return place.first < 0 || place.second < 0 || place.first >= last.first || place.second >= last.second;
  };
  for (const BoardField& field : lost)
    if (black(field) && field.level >= (outer(field.place) ? kSensorFull : look.white)) wash_out(field);
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
