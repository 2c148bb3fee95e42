#include "jigtrue/detection/propose_places.hpp"

#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/detection/coarse_search.hpp"
#include "jigtrue/detection/search_picture.hpp"
#include "jigtrue/detection/strip.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kCellsAcross = 8.0;     // of a blank's girth: its edges well apart at the scale of kSmooth
constexpr double kFinest_mm = 0.4;       // a cell, however slim the blank
constexpr double kCoarsest_mm = 1.6;     // a cell, however wide the blank
constexpr double kSmooth = 0.8;          // of the derivative, cells
constexpr double kAskew = 1.4;           // cells, by which an end may lie off with the nearest of the directions tried
constexpr double kMostTurn_deg = 4.0;    // between directions, however short the blank is
constexpr double kWorthJudging = 0.2;    // support of the sides: with less no outline is ever measured closely
constexpr double kBeyond = 0.15;         // of the blank's length: a blank cut by the picture's rim has its middle there
constexpr std::size_t kMostPeaks = 400;  // of one direction
constexpr std::size_t kMostPlaces = 300;  // that are handed on

// A stretch of the sides at about one distance from the axis, cells; `from` and `to` from the blank's middle.
struct SidePiece {
  int from = 0;
  int to = 0;
  int radius = 0;
};
struct OutlineTemplate {
  std::vector<SidePiece> pieces;
  int side_cells = 0;  // all pieces together
  int start = 0;       // columns of the ends
  int end = 0;
  int start_radius = 0;
  int end_radius = 0;
  bool turns_alike = false;  // half a turn changes nothing
  [[nodiscard]] bool straight() const { return pieces.size() == 1; }
};

int cells(double mm, double mm_per_cell) { return static_cast<int>(std::lround(mm / mm_per_cell)); }

double radius_at(const std::vector<Vector2d>& profile, double distance) {
  for (std::size_t i = 1; i < profile.size(); ++i) {
    const Vector2d& a = profile[i - 1];
    const Vector2d& b = profile[i];
    if (distance <= b.x()) return a.y() + (b.y() - a.y()) * std::max(distance - a.x(), 0.0) / (b.x() - a.x());
  }
  return profile.back().y();
}

OutlineTemplate outline_template(const BlankShape& shape, double mm_per_cell) {
  OutlineTemplate outline;
  const double length = length_mm(shape);
  const int half = cells(0.5 * length, mm_per_cell);
  outline.start = -half;
  outline.end = half;
  const auto least = [](int radius) { return std::max(radius, 1); };
  if (const auto* plate = std::get_if<PlateBlank>(&shape)) {
    const int corner = cells(plate->corner_radius_mm, mm_per_cell);
    const int radius = cells(0.5 * plate->height_mm, mm_per_cell);
    const int straight = std::max(half - corner, 1);
    outline.pieces = {{-straight, straight, radius}};
    outline.start_radius = outline.end_radius = least(radius - corner);
    outline.turns_alike = true;
  } else {
    const std::vector<Vector2d> profile = radius_profile(shape);
    for (int x = -half; x < half; ++x) {
      const double distance = std::clamp((x + 0.5) * mm_per_cell + 0.5 * length, 0.0, length);
      const int radius = cells(radius_at(profile, distance), mm_per_cell);
      if (outline.pieces.empty() || outline.pieces.back().radius != radius) outline.pieces.push_back({x, x, radius});
      outline.pieces.back().to = x + 1;
    }
    outline.start_radius = least(outline.pieces.front().radius);
    outline.end_radius = least(outline.pieces.back().radius);
    outline.turns_alike = !std::holds_alternative<TurnedBlank>(shape);
  }
  for (const SidePiece& piece : outline.pieces) outline.side_cells += piece.to - piece.from;
  return outline;
}

OutlineTemplate reversed(const OutlineTemplate& outline) {
  OutlineTemplate other = outline;
  std::reverse(other.pieces.begin(), other.pieces.end());
  for (SidePiece& piece : other.pieces) piece = {-piece.to, -piece.from, piece.radius};
  std::swap(other.start_radius, other.end_radius);
  return other;
}

// Room that a worker keeps from direction to direction.
class Room {
 public:
  // Of these values' number; what they hold is of no meaning.
  [[nodiscard]] cv::Mat1f take(int rows, int columns) {
    return cv::Mat1f(rows, columns, next(static_cast<std::size_t>(rows) * static_cast<std::size_t>(columns)));
  }
  [[nodiscard]] cv::Mat3f take_edges(int rows, int columns) {
    return cv::Mat3f(
        rows, columns,
        reinterpret_cast<cv::Vec3f*>(next(3 * static_cast<std::size_t>(rows) * static_cast<std::size_t>(columns))));
  }
  void give_all_back() { used_ = 0; }

 private:
  std::vector<std::vector<float>> pieces_;
  std::size_t used_ = 0;
  float* next(std::size_t count) {
    if (used_ == pieces_.size()) pieces_.emplace_back();
    std::vector<float>& piece = pieces_[used_++];
    if (piece.size() < count) piece.resize(count);
    return piece.data();
  }
};

// The edges along one direction, in a picture turned so that this is its rows'.
class TurnedEdges {
 public:
  TurnedEdges(const EdgePicture& edges, double heading_rad, int reach, Room& room) : edges_(edges), reach_(reach) {
    const double c = std::cos(heading_rad);
    const double s = std::sin(heading_rad);
    const cv::Size size = edges.along_x.size();
    columns_ = static_cast<int>(std::ceil(std::abs(size.width * c) + std::abs(size.height * s))) + 1;
    rows_ = static_cast<int>(std::ceil(std::abs(size.width * s) + std::abs(size.height * c))) + 1;
    turn_ = cv::Matx23d(c, -s, 0.5 * (size.width - c * columns_ + s * rows_), s, c,
                        0.5 * (size.height - s * columns_ - c * rows_));
    cv::Mat3f slope = room.take_edges(size.height, size.width);
    cv::addWeighted(edges.along_x, -s, edges.along_y, c, 0.0, slope);
    cv::Mat3f turned = room.take_edges(rows_, columns_);
    cv::warpAffine(slope, turned, turn_, turned.size(), cv::INTER_NEAREST | cv::WARP_INVERSE_MAP);
    for (cv::Mat1f& sums : along_rows_) sums = room.take(rows_, columns_ + 1 + 2 * reach_);
    sum_rows(turned);
  }
  [[nodiscard]] int columns() const { return columns_; }
  [[nodiscard]] int rows() const { return rows_; }
  [[nodiscard]] Vector2d cell(double column, double row) const {
    const cv::Vec2d at = turn_ * cv::Vec3d(column, row, 1.0);
    return {at[0], at[1]};
  }

  // Adds a stretch of one side's row to sums of three channels, for every column that the blank's middle may lie in.
  void add_stretch(int row, int from, int to, std::array<std::vector<float>, kChannels>& sums) const {
    if (row < 0 || row >= rows_) return;
    for (std::size_t ch = 0; ch < kChannels; ++ch) {
      const float* first = along_rows_[ch].ptr<float>(row) + reach_ + from;
      const float* last = along_rows_[ch].ptr<float>(row) + reach_ + to;
      // by Eigen, since a compiler at its usual setting takes such a loop one number at a time
      Eigen::Map<Eigen::ArrayXf>(sums[ch].data(), columns_) +=
          Eigen::Map<const Eigen::ArrayXf>(last, columns_) - Eigen::Map<const Eigen::ArrayXf>(first, columns_);
    }
  }
  // Support of an end at this column between two rows.
  [[nodiscard]] float end_support(int column, int low, int high) const {
    cv::Vec3f sum(0.0F, 0.0F, 0.0F);
    const cv::Size size = edges_.along_x.size();
    for (int row = low; row <= high; ++row) {
      const auto x = static_cast<int>(std::lround(turn_(0, 0) * column + turn_(0, 1) * row + turn_(0, 2)));
      const auto y = static_cast<int>(std::lround(turn_(1, 0) * column + turn_(1, 1) * row + turn_(1, 2)));
      if (x < 0 || y < 0 || x >= size.width || y >= size.height) continue;
      sum += edges_.along_x(y, x) * static_cast<float>(turn_(0, 0)) +
             edges_.along_y(y, x) * static_cast<float>(turn_(1, 0));
    }
    return std::sqrt(sum.dot(sum)) / static_cast<float>(high + 1 - low);
  }

 private:
  const EdgePicture& edges_;
  int columns_ = 0;
  int rows_ = 0;
  int reach_ = 0;  // columns beside the picture that a stretch may reach into
  cv::Matx23d turn_;
  std::array<cv::Mat1f, kChannels> along_rows_;

  void sum_rows(const cv::Mat3f& turned) {
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
};

// Support of one side for every row and column that the blank's middle may lie in. `sign`: +1 left, -1 right.
cv::Mat1f side_support(const TurnedEdges& edges, const OutlineTemplate& outline, int sign, Room& room) {
  cv::Mat1f support = room.take(edges.rows(), edges.columns());
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

struct Peak {
  double support = 0.0;
  double column = 0.0;
  double row = 0.0;
};

// Cells that no cell near them exceeds, most support first.
std::vector<Peak> peaks_of(const cv::Mat1f& support, const std::vector<cv::Point>& worth) {
  constexpr int kNearRows = 2;     // cells within which two peaks are one: an edge's own width
  constexpr int kNearColumns = 4;  // the same along the blank, where ends tell it less well
  std::vector<Peak> peaks;
  for (const cv::Point& at : worth) {
    const float here = support(at);
    bool greatest = true;
    for (int y = std::max(at.y - kNearRows, 0); greatest && y <= std::min(at.y + kNearRows, support.rows - 1); ++y) {
      const float* row = support.ptr<float>(y);
      for (int x = std::max(at.x - kNearColumns, 0); x <= std::min(at.x + kNearColumns, support.cols - 1); ++x)
        greatest = greatest && (row[x] < here || (row[x] == here && !(y < at.y || (y == at.y && x < at.x))));
    }
    if (greatest) peaks.push_back({static_cast<double>(here), static_cast<double>(at.x), static_cast<double>(at.y)});
  }
  std::stable_sort(peaks.begin(), peaks.end(), [](const Peak& a, const Peak& b) { return a.support > b.support; });
  if (peaks.size() > kMostPeaks) peaks.resize(kMostPeaks);
  return peaks;
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

using Proposal = ProposedPlace;

std::vector<int> other_girths(int girth_cells) {
  std::vector<int> wider;
  const int most = static_cast<int>(0.5 * SearchRange{}.girth_share * girth_cells);
  for (int k = 1; k <= most; k += std::max(1, most / 3)) {
    wider.push_back(k);
    wider.push_back(-k);
  }
  return wider;
}

// `headings_rad`: with values, only directions near one of those.
std::vector<Proposal> elongated(const BedView& view, const EdgePicture& edges, const Blank& blank,
                                const std::vector<int>& wider, const std::vector<double>& headings_rad, int threads) {
  const OutlineTemplate outline = outline_template(blank.shape, view.mm_per_cell);
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
  std::vector<OutlineTemplate> ways = {outline};
  if (!outline.turns_alike) ways.push_back(reversed(outline));
  std::vector<std::vector<Proposal>> found(directions.size());
  std::vector<Room> rooms(static_cast<std::size_t>(std::max(threads, 1)));
  in_parallel(directions.size(), threads, [&](std::size_t k, std::size_t worker) {
    Room& room = rooms[worker];
    room.give_all_back();
    const double heading = directions[k];
    const TurnedEdges turned(edges, heading, outline.end + 1, room);
    cv::Mat1f support = room.take(turned.rows(), turned.columns());
    for (std::size_t way = 0; way < ways.size(); ++way) {
      const cv::Mat1f left = side_support(turned, ways[way], +1, room);
      const cv::Mat1f right = outline.straight() ? left : side_support(turned, ways[way], -1, room);
      for (const int by : wider) {
        for (const Peak& peak : peaks_along(turned, ways[way], left, right, by, support)) {
          Proposal here;
          here.support = peak.support;
          here.place.centre_mm = view.bed_mm(turned.cell(peak.column, peak.row));
          here.place.heading_rad = std::remainder(heading + kPi * static_cast<double>(way), 2.0 * kPi);
          here.place.girth_mm = 2.0 * by * view.mm_per_cell;
          found[k].push_back(here);
        }
      }
    }
  });
  std::vector<Proposal> together;
  for (const auto& list : found) together.insert(together.end(), list.begin(), list.end());
  return together;
}

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

std::vector<Proposal> discs(const BedView& view, const EdgePicture& edges, const Blank& blank,
                            const std::vector<int>& wider, int threads) {
  const double diameter_cells = largest_girth_mm(blank.shape) / view.mm_per_cell;
  std::vector<std::vector<Proposal>> found(wider.size());
  in_parallel(wider.size(), threads, [&](std::size_t k, std::size_t) {
    const cv::Mat1f support = rim_support(edges, 0.5 * diameter_cells + wider[k]);
    std::vector<cv::Point> worth;
    for (int y = 0; y < support.rows; ++y)
      for (int x = 0; x < support.cols; ++x)
        if (static_cast<double>(support(y, x)) >= kWorthJudging) worth.emplace_back(x, y);
    for (const Peak& peak : peaks_of(support, worth)) {
      Proposal here;
      here.support = whole_outline(peak.support, peak.support);
      here.place.centre_mm = view.bed_mm({peak.column, peak.row});
      here.place.girth_mm = 2.0 * wider[k] * view.mm_per_cell;
      found[k].push_back(here);
    }
  });
  std::vector<Proposal> together;
  for (const auto& list : found) together.insert(together.end(), list.begin(), list.end());
  return together;
}

// The best places, none so near another that the search around the one covers the other.
std::vector<ProposedPlace> distinct(std::vector<Proposal> all, const Blank& blank) {
  constexpr double kAlong_mm = 8.0;  // nearer places along it are one blank's
  constexpr double kTurn_rad = 0.1;  // nearer directions are one blank's
  const bool disc = std::holds_alternative<DiscBlank>(blank.shape);
  const bool turns_alike = !std::holds_alternative<TurnedBlank>(blank.shape);
  const double across_mm = std::min(0.5 * largest_girth_mm(blank.shape), 5.0);
  std::stable_sort(all.begin(), all.end(),
                   [](const ProposedPlace& a, const ProposedPlace& b) { return a.support > b.support; });
  std::vector<ProposedPlace> kept;
  for (const ProposedPlace& here : all) {
    if (kept.size() == kMostPlaces) break;
    const bool near = std::any_of(kept.begin(), kept.end(), [&](const ProposedPlace& other) {
      const Vector2d along(std::cos(other.place.heading_rad), std::sin(other.place.heading_rad));
      const Vector2d away = here.place.centre_mm - other.place.centre_mm;
      if (disc) return away.norm() < across_mm;
      const double turn =
          std::abs(std::remainder(here.place.heading_rad - other.place.heading_rad, turns_alike ? kPi : 2.0 * kPi));
      return std::abs(away.dot(along)) < kAlong_mm &&
             std::abs(along.x() * away.y() - along.y() * away.x()) < across_mm && turn < kTurn_rad;
    });
    if (!near) kept.push_back(here);
  }
  return kept;
}

}  // namespace

EdgePicture edges_of(const BedView& view) {
  EdgePicture edges;
  cv::Mat3f smooth;
  cv::GaussianBlur(view.picture, smooth, {}, kSmooth);
  const cv::Matx13f slope(-0.5F, 0.0F, 0.5F);
  cv::filter2D(smooth, edges.along_x, CV_32F, slope);
  cv::filter2D(smooth, edges.along_y, CV_32F, slope.t());
  cv::Mat1b inner;
  cv::erode(view.seen, inner, cv::getStructuringElement(cv::MORPH_RECT, {9, 9}), {-1, -1}, 1, cv::BORDER_CONSTANT, 0);
  cv::Mat1f length(smooth.size());
  for (int y = 0; y < length.rows; ++y)
    for (int x = 0; x < length.cols; ++x) {
      const cv::Vec3f& gx = edges.along_x(y, x);
      const cv::Vec3f& gy = edges.along_y(y, x);
      length(y, x) = inner(y, x) != 0 ? std::sqrt(gx.dot(gx) + gy.dot(gy)) : 0.0F;
    }
  // Saturates well above the ordinary texture around, never below the noise of an 8-bit picture.
  constexpr double kAround_mm = 40.0;
  const int around = 2 * static_cast<int>(0.5 * kAround_mm / view.mm_per_cell) + 1;
  cv::Mat1f usual;
  cv::boxFilter(length, usual, CV_32F, {around, around});
  for (int y = 0; y < length.rows; ++y)
    for (int x = 0; x < length.cols; ++x) {
      const float floor = std::max(1.5F * usual(y, x), 1.0F);
      const float scale = inner(y, x) != 0 ? 1.0F / std::sqrt(length(y, x) * length(y, x) + floor * floor) : 0.0F;
      edges.along_x(y, x) *= scale;
      edges.along_y(y, x) *= scale;
    }
  return edges;
}

double outline_height_mm(const Blank& blank, const Seat& seat) {
  if (is_flat(blank.shape)) return top_face_mm(blank.shape, seat);
  const AxisLine axis = resting_axis(blank.shape, seat);
  return axis.height_at_start_mm + 0.5 * length_mm(blank.shape) * std::sin(axis.tilt_rad);
}

BedSearch::BedSearch(const Photo& photo, const Camera& camera, const Blank& blank, const Seat& seat, int threads)
    : blank_(blank), threads_(threads) {
  BedViewOptions options;
  options.height_mm = outline_height_mm(blank, seat);
  options.mm_per_cell = std::clamp(largest_girth_mm(blank.shape) / kCellsAcross, kFinest_mm, kCoarsest_mm);
  options.beyond_mm = kBeyond * length_mm(blank.shape);
  view_ = bed_view(photo, camera, options);
  if (!view_.picture.empty()) edges_ = edges_of(view_);
}

std::vector<ProposedPlace> BedSearch::propose(const std::vector<int>& wider,
                                              const std::vector<double>& headings_rad) const {
  if (view_.picture.empty()) return {};
  if (std::holds_alternative<DiscBlank>(blank_.shape))
    return distinct(discs(view_, edges_, blank_, wider, threads_), blank_);
  return distinct(elongated(view_, edges_, blank_, wider, headings_rad, threads_), blank_);
}

std::vector<ProposedPlace> BedSearch::declared() const { return propose({0}, {}); }

std::vector<ProposedPlace> BedSearch::of_girth(double more_mm) const {
  return propose({cells(0.5 * more_mm, view_.mm_per_cell)}, {});
}

std::vector<ProposedPlace> BedSearch::other_sizes(const std::vector<double>& headings_rad) const {
  return propose(other_girths(cells(largest_girth_mm(blank_.shape), view_.mm_per_cell)), headings_rad);
}

}  // namespace jigtrue
