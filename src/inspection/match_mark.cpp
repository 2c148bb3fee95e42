#include "jigtrue/inspection/match_mark.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "inspection/texture.hpp"
#include <Eigen/Dense>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kLeastInkSeen = 0.3;
constexpr double kGround_mm = 5.0;  // over which the bare ground's light is averaged along the axis
constexpr double kGroundAcross_mm = 0.12;
constexpr double kGrain_mm = 6.0;  // how far texture is correlated at most, along and across
constexpr double kGrainAcross_mm = 1.2;

// Where the drawing lies: its centre and direction in the unrolled frame.
struct MarkPose {
  Vector2d uv_mm = Vector2d::Zero();
  double turn_rad = 0.0;
  Eigen::Vector2i mirror = {1, 1};
};

cv::Mat1f laid(const Unrolled& on, const InkRaster& ink, const MarkPose& pose) {
  cv::Mat1f out = cv::Mat1f::zeros(on.light.size());
  const double c = std::cos(pose.turn_rad);
  const double s = std::sin(pose.turn_rad);
  // only where the raster, turned, can reach
  InkBox reach;
  for (const double u : {ink.ink.low.x() - kRim_mm, ink.ink.high.x() + kRim_mm})
    for (const double v : {ink.ink.low.y() - kRim_mm, ink.ink.high.y() + kRim_mm}) {
      const double mu = pose.mirror.x() * u;
      const double mv = pose.mirror.y() * v;
      reach.hold(pose.uv_mm + Vector2d(c * mu - s * mv, s * mu + c * mv));
    }
  const auto index = [&](double mm, int axis, int most) {
    return std::clamp(static_cast<int>(std::floor((mm - on.low_mm[axis]) / on.pitch_mm)), 0, most);
  };
  const int last_row = index(reach.high.y(), 1, out.rows - 1);
  const int last_column = index(reach.high.x(), 0, out.cols - 1);
  for (int row = index(reach.low.y(), 1, out.rows - 1); row <= last_row; ++row)
    for (int column = index(reach.low.x(), 0, out.cols - 1); column <= last_column; ++column) {
      const Vector2d d = on.uv(column, row) - pose.uv_mm;
      out(row, column) =
          ink.at({pose.mirror.x() * (c * d.x() + s * d.y()), pose.mirror.y() * (-s * d.x() + c * d.y())});
    }
  return out;
}

cv::Mat1f weight_of(const cv::Mat1b& seen) {
  cv::Mat1f weight;
  seen.convertTo(weight, CV_32F, 1.0 / 255.0);
  return weight;
}

// Mean of a picture's neighbourhood by weights: along the axis, and a little across.
cv::Mat1f ground_of(const cv::Mat1f& picture, const cv::Mat1f& weight, double pitch_mm) {
  cv::Mat1f sum;
  cv::Mat1f norm;
  const double along = kGround_mm / pitch_mm;
  const double across = std::max(0.3, kGroundAcross_mm / pitch_mm);
  cv::GaussianBlur(picture.mul(weight), sum, cv::Size(), along, across, cv::BORDER_CONSTANT);
  cv::GaussianBlur(weight, norm, cv::Size(), along, across, cv::BORDER_CONSTANT);
  cv::Mat1f out(picture.size());
  for (int row = 0; row < out.rows; ++row)
    for (int column = 0; column < out.cols; ++column)
      out(row, column) = norm(row, column) > 1e-4F ? sum(row, column) / norm(row, column) : 0.0F;
  return out;
}

// Light over the ground's, less 1, where the ground can be told.
cv::Mat1f relative_light(const Unrolled& on, const cv::Mat1f& ground_weight) {
  const cv::Mat1f ground = ground_of(on.light, ground_weight, on.pitch_mm);
  cv::Mat1f out = cv::Mat1f::zeros(on.light.size());
  for (int row = 0; row < out.rows; ++row)
    for (int column = 0; column < out.cols; ++column)
      if (on.seen(row, column) != 0 && ground(row, column) > 1e-5F)
        out(row, column) = std::clamp(on.light(row, column) / ground(row, column) - 1.0F, -1.0F, 4.0F);
  return out;
}

float middle_of(std::vector<float>& values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

// A lamp's reflection runs along a round blank, and hides what was burned under it. A matte cylinder's light varies by
// less than twice its median over the sixty degrees to either side that are looked at; a line along the axis of which
// half is brighter reflects. A mark, be it ever so pale, covers no line by half.
Unrolled without_glare(const Unrolled& given) {
  constexpr float kGlare = 2.5F;
  std::vector<std::vector<float>> lines(static_cast<std::size_t>(given.light.rows));
  std::vector<float> all;
  for (int row = 0; row < given.light.rows; ++row)
    for (int column = 0; column < given.light.cols; ++column)
      if (given.seen(row, column) != 0) {
        lines[static_cast<std::size_t>(row)].push_back(given.light(row, column));
        all.push_back(given.light(row, column));
      }
  Unrolled out = given;
  if (all.empty()) return out;
  out.seen = given.seen.clone();
  const float usual = middle_of(all);
  for (int row = 0; row < out.seen.rows; ++row)
    if (auto& line = lines[static_cast<std::size_t>(row)]; !line.empty() && middle_of(line) > kGlare * usual)
      out.seen.row(row).setTo(0);
  return out;
}

// What the averaging of the ground leaves of a pattern: 1 less the transform of its kernel, over the padded spectrum.
cv::Mat1f left_by_ground(const cv::Size& padded, double pitch_mm) {
  const auto gaussian = [&](int index, int size, double sigma) {
    const double f = static_cast<double>(std::min(index, size - index)) / size;
    return std::exp(-2.0 * kPi * kPi * f * f * sigma * sigma);
  };
  cv::Mat1f out(padded);
  for (int row = 0; row < padded.height; ++row)
    for (int column = 0; column < padded.width; ++column)
      out(row, column) =
          static_cast<float>(1.0 - gaussian(column, padded.width, kGround_mm / pitch_mm) *
                                       gaussian(row, padded.height, std::max(0.3, kGroundAcross_mm / pitch_mm)));
  return out;
}

Texture texture_of(const Unrolled& on, const cv::Mat1f& residual, const cv::Mat1b& where) {
  const Vector2d reach = Vector2d(kGrain_mm, kGrainAcross_mm) / on.pitch_mm;
  return {residual, where,
          cv::Size(std::max(4, static_cast<int>(reach.x())), std::max(4, static_cast<int>(reach.y())))};
}

// Outliers, a mark's ink among them, must not pass for the texture.
cv::Mat1f clipped(const cv::Mat1f& picture, const cv::Mat1b& where) {
  std::vector<float> sizes;
  for (int row = 0; row < picture.rows; ++row)
    for (int column = 0; column < picture.cols; ++column)
      if (where(row, column) != 0) sizes.push_back(std::abs(picture(row, column)));
  if (sizes.empty()) return picture.clone();
  const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
  std::nth_element(sizes.begin(), middle, sizes.end());
  const float limit = 3.5F * 1.4826F * *middle;
  return cv::Mat1f(cv::max(cv::min(picture, static_cast<double>(limit)), -static_cast<double>(limit)));
}

cv::Mat2f spectrum_times(const cv::Mat2f& spectrum, const cv::Mat1f& real) {
  cv::Mat2f out(spectrum.size());
  for (int row = 0; row < spectrum.rows; ++row)
    for (int column = 0; column < spectrum.cols; ++column) out(row, column) = spectrum(row, column) * real(row, column);
  return out;
}

int steps_of_turn(const InkRaster& ink, double reach_rad) {
  const double half = std::max(1.0, 0.5 * ink.ink.size().x());
  return std::min(12, static_cast<int>(std::ceil(reach_rad * half / 0.25)));
}

// Which shifts leave how much of a pattern where something is seen.
cv::Mat1f seen_share(const Texture& texture, const cv::Mat2f& seen, const cv::Mat2f& pattern, double pattern_sum) {
  cv::Mat2f product;
  cv::mulSpectrums(seen, pattern, product, 0, true);
  cv::Mat1f share;
  cv::dft(product, share, cv::DFT_INVERSE | cv::DFT_SCALE | cv::DFT_REAL_OUTPUT);
  CV_Assert(share.size() == texture.padded());
  return share / std::max(pattern_sum, 1e-9);
}

// The peak of a pattern within a window of shifts, on a picture whose ground was taken off. Where part of the pattern
// would lie where nothing is to be seen, it is judged by the rest.
class PeakFinder {
 public:
  PeakFinder(const Unrolled& on, const InkRaster& ink, const Texture& texture, const cv::Mat1f& picture,
             const cv::Mat1b& seen)
      : on_(on),
        ink_(ink),
        texture_(texture),
        spectrum_(texture.spectrum(picture.mul(weight_of(seen)))),
        seen_spectrum_(texture.spectrum(weight_of(seen))),
        gain_(left_by_ground(texture.padded(), on.pitch_mm)) {}

  // `keep_off_mm`: shifts nearer than this to `from` are passed over.
  [[nodiscard]] MarkPeak find(const MarkSearch& search, const Eigen::Vector2i& mirror,
                              const std::optional<Vector2d>& from = std::nullopt, double keep_off_mm = 0.0) {
    MarkPeak best;
    const int steps = steps_of_turn(ink_, search.reach_rad);
    for (int k = -steps; k <= steps; ++k) {
      const double turn = steps > 0 ? search.reach_rad * k / steps : 0.0;
      const cv::Mat1f& scores = scores_of(turn, mirror);
      const auto count = [&](int axis) { return static_cast<int>(search.reach_mm[axis] / on_.pitch_mm); };
      const Vector2d middle = (search.expected_mm - centre()) / on_.pitch_mm;
      for (int j = -count(1); j <= count(1); ++j)
        for (int i = -count(0); i <= count(0); ++i) {
          const int column = static_cast<int>(std::lround(middle.x())) + i;
          const int row = static_cast<int>(std::lround(middle.y())) + j;
          const Vector2d uv = centre() + on_.pitch_mm * Vector2d(column, row);
          if (from && (uv - *from).norm() < keep_off_mm) continue;
          const double score = static_cast<double>(
              scores((row + 4 * scores.rows) % scores.rows, (column + 4 * scores.cols) % scores.cols));
          if (std::abs(score) > std::abs(best.score)) best = {uv, turn, score};
        }
    }
    return best;
  }

 private:
  static constexpr float kLeastSeen = 0.3F;  // share of a pattern that must be seen for a score

  const Unrolled& on_;
  const InkRaster& ink_;
  const Texture& texture_;
  cv::Mat2f spectrum_;
  cv::Mat2f seen_spectrum_;
  cv::Mat1f gain_;
  struct Known {
    double turn = 0.0;
    Eigen::Vector2i mirror;
    cv::Mat1f scores;
  };
  std::vector<Known> known_;

  // The pattern is laid once at the frame's middle, then shifted.
  [[nodiscard]] Vector2d centre() const { return on_.uv(on_.light.cols / 2, on_.light.rows / 2); }

  const cv::Mat1f& scores_of(double turn, const Eigen::Vector2i& mirror) {
    for (const Known& known : known_)
      if (known.turn == turn && known.mirror == mirror) return known.scores;
    const cv::Mat1f whole = laid(on_, ink_, {centre(), turn, mirror});
    const cv::Mat2f plain = texture_.spectrum(whole);
    const cv::Mat2f pattern = spectrum_times(plain, gain_);
    const double energy = std::max(texture_.inner(pattern, pattern), 1e-12);
    cv::Mat1f scores = texture_.correlation(spectrum_, pattern) / std::sqrt(energy);
    const cv::Mat1f seen = seen_share(texture_, seen_spectrum_, plain, cv::sum(whole)[0]);
    for (int row = 0; row < scores.rows; ++row)
      for (int column = 0; column < scores.cols; ++column) {
        const float share = seen(row, column);
        scores(row, column) = share < kLeastSeen ? 0.0F : scores(row, column) / std::sqrt(std::min(share, 1.0F));
      }
    known_.push_back({turn, mirror, scores});
    return known_.back().scores;
  }
};

// Least squares in the whitened picture: amplitude, u, v, turn.
struct MarkFit {
  MarkPose pose;
  double amplitude = 0.0;
  Eigen::Matrix4d normal = Eigen::Matrix4d::Identity();
};

class MarkFitter {
 public:
  MarkFitter(const Unrolled& on, const Texture& texture, const cv::Mat1f& relative)
      : on_(on), texture_(texture), weight_(weight_of(on.seen)), data_(texture.spectrum(relative.mul(weight_))) {}

  // Gauss and Newton's steps from `pose`.
  [[nodiscard]] std::optional<MarkFit> fit(const InkRaster& ink, MarkPose pose, int steps) const {
    MarkFit fit;
    const double half = std::max(1.0, 0.5 * ink.ink.size().x());
    for (int k = 0; k <= steps; ++k) {
      const std::array<cv::Mat2f, 4> by = slopes(ink, pose);
      const double energy = texture_.inner(by[0], by[0]);
      if (!(energy > 1e-9)) return std::nullopt;
      const double amplitude = texture_.inner(by[0], data_) / energy;
      const Eigen::Vector4d scale(1.0, amplitude, amplitude, amplitude);
      Eigen::Vector4d right;
      for (int i = 0; i < 4; ++i) {
        const cv::Mat2f& slope = by[static_cast<std::size_t>(i)];
        right[i] = scale[i] * (texture_.inner(slope, data_) - amplitude * texture_.inner(slope, by[0]));
        for (int j = i; j < 4; ++j)
          fit.normal(i, j) = fit.normal(j, i) =
              scale[i] * scale[j] * texture_.inner(slope, by[static_cast<std::size_t>(j)]);
      }
      fit.pose = pose;
      fit.amplitude = amplitude;
      if (k == steps) break;
      Eigen::Vector4d change = fit.normal.ldlt().solve(right);
      if (!change.allFinite()) return std::nullopt;
      // a step beyond the blur would leave the slope that it was taken from
      const double longest = std::max({std::abs(change[1]), std::abs(change[2]), std::abs(change[3]) * half});
      if (longest > 0.3) change *= 0.3 / longest;
      pose.uv_mm += Vector2d(change[1], change[2]);
      pose.turn_rad += change[3];
      if (longest < 2e-4 && k + 1 < steps) k = steps - 1;
    }
    return fit;
  }

  // What the blank's own texture does to the place: the fit's linear answer to what lies bare, as if the mark lay
  // there, over all shifts that leave half of it there (the larger of this and of what the autocovariance foretells is
  // believed: texture is not the same all over a blank). Variances of u, v and turn; zero where no shift does.
  [[nodiscard]] Vector3d scatter_elsewhere(const InkRaster& ink, const MarkFit& fit, const cv::Mat1f& relative,
                                           const cv::Mat1b& bare) const {
    constexpr float kHalf = 0.5F;
    const std::array<cv::Mat2f, 4> by = slopes(ink, fit.pose);
    const cv::Mat1f pattern = laid(on_, ink, fit.pose).mul(weight_);
    const cv::Mat2f left = texture_.spectrum(relative.mul(weight_of(bare)));
    const cv::Mat1f share = seen_share(texture_, texture_.spectrum(weight_of(bare)), by[0], cv::sum(pattern)[0]);
    std::array<cv::Mat1f, 4> pull;
    for (std::size_t i = 0; i < 4; ++i) pull[i] = texture_.correlation(left, by[i]);
    const Eigen::Matrix4d inverse = fit.normal.inverse();
    Vector3d square = Vector3d::Zero();
    double count = 0.0;
    for (int row = 0; row < share.rows; ++row)
      for (int column = 0; column < share.cols; ++column) {
        if (share(row, column) < kHalf) continue;
        Eigen::Vector4d right;
        for (int i = 0; i < 4; ++i)
          right[i] =
              (i == 0 ? 1.0 : fit.amplitude) * static_cast<double>(pull[static_cast<std::size_t>(i)](row, column));
        // less of it seen tells the place less well: by the root of the share
        const Eigen::Vector4d answer = inverse * right / std::sqrt(static_cast<double>(share(row, column)));
        square += answer.tail<3>().cwiseAbs2();
        count += 1.0;
      }
    constexpr double kEnough = 200.0;
    return count < kEnough ? Vector3d(Vector3d::Zero()) : Vector3d(square / count);
  }

 private:
  const Unrolled& on_;
  const Texture& texture_;
  cv::Mat1f weight_;
  cv::Mat2f data_;

  // Spectra of the pattern and of its slopes by u, v and turn.
  [[nodiscard]] std::array<cv::Mat2f, 4> slopes(const InkRaster& ink, const MarkPose& pose) const {
    const cv::Mat1f pattern = laid(on_, ink, pose);
    std::array<cv::Mat1f, 3> slope;
    for (cv::Mat1f& each : slope) each = cv::Mat1f::zeros(pattern.size());
    const auto per_mm = static_cast<float>(0.5 / on_.pitch_mm);
    for (int row = 1; row + 1 < pattern.rows; ++row)
      for (int column = 1; column + 1 < pattern.cols; ++column) {
        const float by_u = per_mm * (pattern(row, column + 1) - pattern(row, column - 1));
        const float by_v = per_mm * (pattern(row + 1, column) - pattern(row - 1, column));
        const Vector2d arm = on_.uv(column, row) - pose.uv_mm;
        slope[0](row, column) = -by_u;
        slope[1](row, column) = -by_v;
        slope[2](row, column) = static_cast<float>(arm.y()) * by_u - static_cast<float>(arm.x()) * by_v;
      }
    return {texture_.spectrum(pattern.mul(weight_)), texture_.spectrum(slope[0].mul(weight_)),
            texture_.spectrum(slope[1].mul(weight_)), texture_.spectrum(slope[2].mul(weight_))};
  }
};

// What the best amplitude leaves of the light itself. A blur is chosen by this: whitened, the finest detail counts
// most, which compression has taken out of texture and edges alike.
double plain_cost(const cv::Mat1f& pattern, const cv::Mat1f& relative, const cv::Mat1b& where) {
  cv::Mat1f p = cv::Mat1f::zeros(pattern.size());
  pattern.copyTo(p, where);
  cv::Mat1f r = cv::Mat1f::zeros(pattern.size());
  relative.copyTo(r, where);
  const double both = p.dot(r);
  return r.dot(r) - both * both / std::max(p.dot(p), 1e-12);
}

cv::Mat1b widened(const cv::Mat1f& pattern, double by_mm, double pitch_mm) {
  cv::Mat1b ink = pattern > 0.02;
  const int radius = std::max(1, static_cast<int>(std::lround(by_mm / pitch_mm)));
  cv::Mat1b out;
  cv::dilate(ink, out, cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(2 * radius + 1, 2 * radius + 1)));
  return out;
}

double mean_where(const cv::Mat1f& picture, const cv::Mat1b& where) {
  return cv::countNonZero(where) > 0 ? cv::mean(picture, where)[0] : 0.0;
}

// Bounds along the drawing that share its ink evenly.
std::vector<double> even_bounds(const InkRaster& ink, std::size_t pieces) {
  std::vector<double> ink_at(static_cast<std::size_t>(ink.coverage.cols));
  for (int column = 0; column < ink.coverage.cols; ++column)
    ink_at[static_cast<std::size_t>(column)] = cv::sum(ink.coverage.col(column))[0];
  const double total = std::accumulate(ink_at.begin(), ink_at.end(), 0.0);
  std::vector<double> bounds = {ink.ink.low.x() - kRim_mm};
  double sum = 0.0;
  for (std::size_t column = 0; column < ink_at.size(); ++column) {
    sum += ink_at[column];
    if (sum >= total * static_cast<double>(bounds.size()) / static_cast<double>(pieces) && bounds.size() < pieces)
      bounds.push_back(ink.low_mm.x() + ink.pitch_mm * static_cast<double>(column));
  }
  bounds.push_back(ink.ink.high.x() + kRim_mm);
  return bounds;
}

// Contrast is told in the ink's middle, where the lens mixes in least of the bare ground, and by plain means: a
// camera's sharpening makes edges darker than they are, and whitening looks at edges most.
MarkPiece piece_between(double from_mm, double to_mm, const Unrolled& on, const cv::Mat1f& pattern, float least,
                        const Texture& texture, const cv::Mat1f& relative, const MarkPose& pose) {
  const double c = std::cos(pose.turn_rad);
  const double s = std::sin(pose.turn_rad);
  cv::Mat1f core = cv::Mat1f::zeros(pattern.size());
  double sum = 0.0;
  double ink = 0.0;
  double count = 0.0;
  for (int row = 0; row < pattern.rows; ++row)
    for (int column = 0; column < pattern.cols; ++column) {
      if (pattern(row, column) < least || on.seen(row, column) == 0) continue;
      const Vector2d d = on.uv(column, row) - pose.uv_mm;
      const double u = c * d.x() + s * d.y();
      if (u < from_mm || u >= to_mm) continue;
      core(row, column) = 1.0F;
      sum += static_cast<double>(relative(row, column));
      ink += static_cast<double>(pattern(row, column));
      count += 1.0;
    }
  if (count < 4.0) return {from_mm, to_mm, 0.0, 0.0};
  return {from_mm, to_mm, -sum / ink, std::sqrt(std::max(texture.variance_of_sum(core), 0.0)) / ink};
}

// Coverage that only the ink's middle has: the upper fifth of what the drawing, blurred, comes to.
float core_coverage(const cv::Mat1f& pattern) {
  std::vector<float> values;
  for (int row = 0; row < pattern.rows; ++row)
    for (int column = 0; column < pattern.cols; ++column)
      if (pattern(row, column) > 0.2F) values.push_back(pattern(row, column));
  if (values.empty()) return 1.0F;
  const auto at = values.begin() + static_cast<std::ptrdiff_t>(values.size() * 7 / 10);
  std::nth_element(values.begin(), at, values.end());
  return std::min(*at, 0.97F);
}

// Windows of the same size where no mark can be: laid elsewhere on the blank, and mirrored, beside what was matched.
std::vector<double> null_scores_of(const Unrolled& on, const InkRaster& ink, const Texture& texture,
                                   const cv::Mat1f& relative, const cv::Mat1b& bare, const MarkSearch& search) {
  PeakFinder finder(on, ink, texture, relative, bare);
  std::vector<double> scores;
  const Vector2d stride = 2.0 * search.reach_mm;
  constexpr int kFarthest = 3;
  for (int j = -kFarthest; j <= kFarthest; ++j)
    for (int i = -kFarthest; i <= kFarthest; ++i)
      for (const int mu : {1, -1})
        for (const int mv : {1, -1}) {
          MarkSearch elsewhere = search;
          elsewhere.expected_mm += Vector2d(i * stride.x(), j * stride.y());
          const double score = std::abs(finder.find(elsewhere, {mu, mv}).score);
          if (score > 0.0) scores.push_back(score);
        }
  return scores;
}

}  // namespace

std::optional<MarkMatch> match_mark(const Unrolled& unrolled, const InkRaster& sharp, const MarkSearch& search) {
  const Unrolled on = without_glare(unrolled);
  const cv::Mat1f weight = weight_of(on.seen);
  const auto blurred_by = [&](double px) {
    return blurred(sharp, Vector2d(px / on.px_per_mm.x(), px / on.px_per_mm.y()));
  };
  double blur_px = 0.9;
  InkRaster ink = blurred_by(blur_px);
  MarkMatch match;
  const double whole = cv::sum(ink.coverage)[0] * ink.pitch_mm * ink.pitch_mm;
  const cv::Mat1f here = laid(on, ink, {search.expected_mm, 0.0}).mul(weight);
  match.ink_seen = whole > 0.0 ? cv::sum(here)[0] * on.pitch_mm * on.pitch_mm / whole : 0.0;
  if (match.ink_seen < kLeastInkSeen) return std::nullopt;

  cv::Mat1f relative = relative_light(on, weight);
  std::optional<Texture> texture = texture_of(on, clipped(relative, on.seen), on.seen);
  match.peak = PeakFinder(on, ink, *texture, relative, on.seen).find(search, {1, 1});
  MarkPose pose{match.peak.uv_mm, match.peak.turn_rad};
  std::optional<MarkFit> fit;
  cv::Mat1f residual;
  cv::Mat1b bare;
  // The ground is told from what the mark leaves bare, the texture from what the mark does not explain: in turns.
  for (const std::vector<double>& blurs :
       {std::vector<double>{0.4, 0.6, 0.9, 1.3, 1.9}, std::vector<double>{0.8, 1.0, 1.2}, std::vector<double>{}}) {
    bare = on.seen & ~widened(laid(on, ink, pose), 0.5, on.pitch_mm);
    if (cv::countNonZero(bare) < cv::countNonZero(on.seen) / 10) return std::nullopt;
    relative = relative_light(on, weight_of(bare));
    texture = texture_of(on, clipped(relative, bare), bare);
    const MarkFitter fitter(on, *texture, relative);
    fit = fitter.fit(ink, pose, blurs.empty() ? 6 : 3);
    if (!fit) return std::nullopt;
    pose = fit->pose;
    const double before = blurs.size() == 3 ? blur_px : 1.0;
    const cv::Mat1b around = widened(laid(on, ink, pose), 0.4, on.pitch_mm) & on.seen;
    double least = 0.0;
    for (std::size_t i = 0; i < blurs.size(); ++i) {
      const InkRaster tried = blurred_by(before * blurs[i]);
      const double cost = plain_cost(laid(on, tried, pose), relative, around);
      if (i > 0 && cost >= least) continue;
      least = cost;
      ink = tried;
      blur_px = before * blurs[i];
    }
  }
  const cv::Mat1f pattern = laid(on, ink, pose).mul(weight);
  residual = (relative - fit->amplitude * pattern).mul(weight);
  match.uv_mm = pose.uv_mm;
  match.turn_rad = pose.turn_rad;
  match.blur_mm = blur_px / on.px_per_mm.mean();
  match.contrast_sigma = 1.0 / std::sqrt(std::max(fit->normal(0, 0), 1e-12));
  const cv::Mat1f white = texture->whitened(residual)(cv::Rect(0, 0, residual.cols, residual.rows));
  match.misfit = std::sqrt(mean_where(white.mul(white), widened(pattern, 0.2, on.pitch_mm) & on.seen));
  // what the model does not explain on the ink counts as noise there
  const Eigen::Matrix4d covariance = std::max(1.0, match.misfit * match.misfit) * fit->normal.inverse();
  match.covariance = covariance.bottomRightCorner<3, 3>();
  const Vector3d elsewhere = MarkFitter(on, *texture, relative).scatter_elsewhere(ink, *fit, relative, bare);
  const Vector3d wider = (elsewhere.array() / match.covariance.diagonal().array()).cwiseMax(1.0).sqrt();
  match.covariance = Matrix3d(wider.asDiagonal() * match.covariance * wider.asDiagonal());

  const float core = core_coverage(pattern);
  match.contrast = piece_between(-1e6, 1e6, on, pattern, core, *texture, relative, pose).contrast;
  const std::vector<double> bounds = even_bounds(ink, 8);
  for (std::size_t k = 0; k + 1 < bounds.size(); ++k)
    if (const MarkPiece piece = piece_between(bounds[k], bounds[k + 1], on, pattern, core, *texture, relative, pose);
        piece.sigma > 0.0)
      match.pieces.push_back(piece);
  const cv::Mat1b rim = widened(pattern, 0.6, on.pitch_mm) & ~widened(pattern, 0.25, on.pitch_mm) & on.seen;
  match.halo = -mean_where(relative, rim);

  // the search once more, by the texture as it is now known
  match.peak = PeakFinder(on, ink, *texture, relative, on.seen).find(search, {1, 1});
  match.null_scores = null_scores_of(on, ink, *texture, relative, bare, search);
  match.reversed = PeakFinder(on, ink, *texture, relative, on.seen).find(search, {-1, -1});
  match.second = PeakFinder(on, ink, *texture, residual, on.seen).find(search, {1, 1}, match.uv_mm, 0.25);
  return match;
}

double chance_of(double score, const std::vector<double>& null_scores) {
  if (null_scores.size() < 6) return 1.0;
  const auto n = static_cast<double>(null_scores.size());
  const double mean = std::accumulate(null_scores.begin(), null_scores.end(), 0.0) / n;
  double square = 0.0;
  for (const double each : null_scores) square += (each - mean) * (each - mean);
  constexpr double kEuler = 0.5772156649;
  const double scale = std::max(std::sqrt(6.0 * square / (n - 1.0)) / kPi, 0.02 * mean);
  return -std::expm1(-std::exp(-(score - (mean - kEuler * scale)) / scale));
}

}  // namespace jigtrue
