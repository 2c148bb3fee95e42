#include "measurement/jig_motion.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "measurement/plane_pair.hpp"
#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace jigtrue::registration {
namespace {

// How far off a jig lies that was taken out and put back: common practice, no source.
struct PutBack {
  double usual_mm = 0.5;
  double farthest_mm = 1.5;  // farther off is another place
  double farthest_deg = 0.6;
};
constexpr PutBack kPutBack;

Level halved(const Level& level) {
  Level half;
  const cv::Size size(level.load.cols / 2, level.load.rows / 2);
  const auto shrink = [&](const cv::Mat1f& plane) {
    cv::Mat1f out;
    cv::resize(plane(cv::Rect(0, 0, size.width * 2, size.height * 2)), out, size, 0, 0, cv::INTER_AREA);
    return out;
  };
  half.load = shrink(level.load);
  half.empty = shrink(level.empty);
  for (std::size_t k = 0; k < 3; ++k) {
    half.by_x[k] = 0.5 * shrink(level.by_x[k]);
    half.by_y[k] = 0.5 * shrink(level.by_y[k]);
  }
  half.beside = cv::Mat1b(size);
  half.of_jig = cv::Mat1b(size);
  for (int r = 0; r < size.height; ++r)
    for (int c = 0; c < size.width; ++c) {
      half.beside(r, c) = level.beside(2 * r, 2 * c);
      half.of_jig(r, c) = level.of_jig(2 * r, 2 * c);
    }
  half.cell_px = std::max(level.cell_px / 2, 1);
  half.gain = level.gain;
  half.noise = robust_sigma(half.load - half.gain * half.empty, half.beside, 0.3);
  half.settle_rest();
  return half;
}

std::vector<std::pair<double, Motion>> coarse_motions(const Level& level) {
  std::vector<std::pair<double, Motion>> list;
  constexpr double kStep_mm = 0.25;  // a sixth of the scale of the structure that is compared
  const int steps = static_cast<int>(std::lround(kPutBack.farthest_mm / kStep_mm));
  for (const double turn_deg : {-0.4, 0.0, 0.4})
    for (int i = -steps; i <= steps; ++i)
      for (int j = -steps; j <= steps; ++j) {
        const Motion m(i * kStep_mm, j * kStep_mm, rad_from_deg(turn_deg));
        list.emplace_back(level.cost(m), m);
      }
  std::sort(list.begin(), list.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
  return list;
}

// The best ones that are not much the same, and no motion at all.
std::vector<Motion> distinct_starts(const std::vector<std::pair<double, Motion>>& ordered) {
  constexpr double kApart_mm = 0.4;  // starts nearer than that lead to the same place
  constexpr std::size_t kMost = 4;   // starts that are refined
  std::vector<Motion> starts = {Motion::Zero()};
  for (const auto& [cost, motion] : ordered) {
    if (starts.size() == kMost) break;
    const bool is_new = std::all_of(starts.begin(), starts.end(), [&, &m = motion](const Motion& other) {
      return (other - m).head<2>().norm() > kApart_mm;
    });
    if (is_new) starts.push_back(motion);
  }
  return starts;
}

struct RefinedMotion {
  Found found;
  double cost = std::numeric_limits<double>::infinity();
};

// Gauss-Newton with Tukey's weights, over the cells that go with the jig rather than with the bed; of a jig that has
// not moved only the gain is sought.
enum class Moves { no, yes };
RefinedMotion refine_motion(Level level, Motion m, Moves moves) {
  constexpr int kRounds = 12;     // at most
  constexpr double kTukey = 4.0;  // sigmas beyond which a pixel counts no more
  Matrix3d covariance = Matrix3d::Zero();
  for (int round = 0; round < kRounds; ++round) {
    const cv::Mat1f empty = level.moved(level.empty, m, cv::INTER_LINEAR);
    level.settle_rest();
    const cv::Mat1f cells = level.cell_costs(empty);
    cv::Mat1f dx;
    cv::Mat1f dy;
    cv::Sobel(empty, dx, CV_32F, 1, 0, 3, 0.125);
    cv::Sobel(empty, dy, CV_32F, 0, 1, 3, 0.125);
    Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
    Eigen::Vector4d right = Eigen::Vector4d::Zero();
    const double limit = kTukey * level.noise;
    for (int r = 0; r < empty.rows; ++r)
      for (int c = 0; c < empty.cols; ++c) {
        if (level.beside(r, c) == 0) continue;
        if (cells(r / level.cell_px, c / level.cell_px) > level.at_rest(r / level.cell_px, c / level.cell_px)) continue;
        const double residual = value_at(level.load, r, c) - level.gain * value_at(empty, r, c);
        if (std::abs(residual) >= limit) continue;
        const double t = residual / limit;
        const double w = (1.0 - t * t) * (1.0 - t * t);
        // d residual / d motion, d gain
        Eigen::Vector4d row;
        for (int k = 0; k < 3; ++k)
          row[k] = level.gain * (value_at(dx, r, c) * value_at(level.by_x[static_cast<std::size_t>(k)], r, c) +
                                 value_at(dy, r, c) * value_at(level.by_y[static_cast<std::size_t>(k)], r, c));
        row[3] = -value_at(empty, r, c);
        normal += w * row * row.transpose();
        right -= w * residual * row;
      }
    normal.diagonal().array() *= 1.0 + 1e-6;
    normal.diagonal().array() += 1e-9;
    const Eigen::LDLT<Eigen::Matrix4d> factor(normal);
    Eigen::Vector4d step = factor.solve(right);
    if (moves == Moves::no) step << 0.0, 0.0, 0.0, right[3] / normal(3, 3);
    if (!step.allFinite()) break;
    m += step.head<3>();
    level.gain = std::clamp(level.gain + step[3], 0.2, 5.0);
    // neighbouring pixels err alike: a fifth of them count
    covariance = 5.0 * level.noise * level.noise * factor.solve(Eigen::Matrix4d::Identity()).topLeftCorner<3, 3>();
    if (moves == Moves::yes && step.head<2>().cwiseAbs().maxCoeff() < 1e-4 && std::abs(step[2]) < 1e-6) break;
    if (moves == Moves::no && std::abs(step[3]) < 1e-5) break;
  }
  RefinedMotion refined;
  refined.found = {m, level.gain, covariance};
  level.settle_rest();
  refined.cost = level.cost(m);
  return refined;
}

}  // namespace

cv::Mat1f Level::moved(const cv::Mat1f& plane, const Motion& motion, int interpolation) const {
  const Eigen::Vector3f m = motion.cast<float>();
  cv::Mat1f x(plane.size());
  cv::Mat1f y(plane.size());
  for (int r = 0; r < plane.rows; ++r)
    for (int c = 0; c < plane.cols; ++c) {
      x(r, c) = static_cast<float>(c) - by_x[0](r, c) * m[0] - by_x[1](r, c) * m[1] - by_x[2](r, c) * m[2];
      y(r, c) = static_cast<float>(r) - by_y[0](r, c) * m[0] - by_y[1](r, c) * m[1] - by_y[2](r, c) * m[2];
    }
  cv::Mat1f out;
  cv::remap(plane, out, x, y, interpolation, cv::BORDER_REPLICATE);
  return out;
}

cv::Mat1f Level::cell_costs(const cv::Mat1f& moved_empty) const {
  constexpr float kMost = 9.0F;  // squares: what differs by more than three sigmas is something else
  cv::Mat1f sums = cv::Mat1f::zeros((load.rows + cell_px - 1) / cell_px, (load.cols + cell_px - 1) / cell_px);
  const auto scale = static_cast<float>(1.0 / noise);
  const auto factor = static_cast<float>(gain);
  for (int r = 0; r < load.rows; ++r)
    for (int c = 0; c < load.cols; ++c) {
      if (beside(r, c) == 0) continue;
      const float z = (load(r, c) - factor * moved_empty(r, c)) * scale;
      sums(r / cell_px, c / cell_px) += std::min(z * z, kMost);
    }
  return sums;
}

void Level::settle_rest() {
  at_rest = cell_costs(empty);
  for (int r = 0; r < at_rest.rows; ++r)
    for (int c = 0; c < at_rest.cols; ++c) {
      const int row = std::min(r * cell_px + cell_px / 2, of_jig.rows - 1);
      const int column = std::min(c * cell_px + cell_px / 2, of_jig.cols - 1);
      if (of_jig(row, column) != 0) at_rest(r, c) = std::numeric_limits<float>::infinity();
    }
}

double Level::cost(const Motion& motion) const {
  constexpr double kPrior = 0.03;  // of the cost, at the usual distance: more than chance takes from it
  const cv::Mat1f cells = cell_costs(moved(empty, motion, cv::INTER_LINEAR));
  double sum = 0.0;
  for (int r = 0; r < cells.rows; ++r)
    for (int c = 0; c < cells.cols; ++c) sum += std::min(value_at(cells, r, c), value_at(at_rest, r, c));
  return sum * (1.0 + kPrior * motion.head<2>().squaredNorm() / (kPutBack.usual_mm * kPutBack.usual_mm));
}

double robust_sigma(const cv::Mat1f& values, const cv::Mat1b& where, double least) {
  std::vector<float> list;
  for (int y = 0; y < values.rows; y += 2)
    for (int x = 0; x < values.cols; x += 2)
      if (where(y, x) != 0) list.push_back(std::abs(values(y, x)));
  if (list.empty()) return least;
  const auto middle = list.begin() + static_cast<std::ptrdiff_t>(list.size() / 2);
  std::nth_element(list.begin(), middle, list.end());
  return std::max(kSigmaOfMad * static_cast<double>(*middle), least);
}

std::optional<Found> find_motion(const Level& level) {
  RefinedMotion best = refine_motion(level, Motion::Zero(), Moves::no);
  for (const Motion& start : distinct_starts(coarse_motions(halved(level)))) {
    const RefinedMotion refined = refine_motion(level, start, Moves::yes);
    if (refined.cost < best.cost) best = refined;
  }
  if (best.found.motion.head<2>().norm() > 1.5 * kPutBack.farthest_mm ||
      std::abs(deg_from_rad(best.found.motion[2])) > 1.5 * kPutBack.farthest_deg)
    return std::nullopt;
  return best.found;
}

}  // namespace jigtrue::registration
