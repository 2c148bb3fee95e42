#include "jigtrue/inspection/match_mark.hpp"

#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <utility>

#include "inspection/bare_ground.hpp"
#include "inspection/mark_contrast.hpp"
#include "inspection/mark_fitter.hpp"
#include "inspection/mark_parts.hpp"
#include "inspection/near_double.hpp"
#include "inspection/peak_finder.hpp"
#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kLeastInkSeen = 0.3;    // of the drawing, for a match
constexpr double kGrain_mm = 6.0;        // how far texture is correlated at most, along and across
constexpr double kGrainAcross_mm = 1.2;  // grain runs along the axis

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
  const float limit = 3.5F * static_cast<float>(kSigmaOfMad) * *middle;
  return cv::Mat1f(cv::max(cv::min(picture, static_cast<double>(limit)), -static_cast<double>(limit)));
}

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

// Windows of the same size where no mark can be: laid elsewhere on the blank, and mirrored, beside what was matched.
std::vector<double> null_scores_of(const Unrolled& on, const InkRaster& ink, const Texture& texture,
                                   const cv::Mat1f& relative, const cv::Mat1b& bare, const MarkSearch& search) {
  PeakFinder finder(on, ink, texture, relative, bare);
  std::vector<double> scores;
  const Vector2d stride = 2.0 * search.reach_mm;
  constexpr int kFarthest = 3;  // windows to either side
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

InkRaster blurred_by(double px, const Unrolled& on, const InkRaster& sharp) {
  return blurred(sharp, Vector2d(px / on.px_per_mm.x(), px / on.px_per_mm.y()));
}

// Two burns that overlap were taken for a more blurred one.
std::vector<InkRaster> differently_blurred(double px, const Unrolled& on, const InkRaster& sharp) {
  std::vector<InkRaster> inks;
  for (const double factor : {0.5, 0.7, 1.0, 1.4}) inks.push_back(blurred_by(factor * px, on, sharp));
  return inks;
}

double share_of_ink_seen(const Unrolled& on, const InkRaster& ink, const Vector2d& at_mm) {
  const double whole = cv::sum(ink.coverage)[0] * ink.pitch_mm * ink.pitch_mm;
  const cv::Mat1f here = laid(on, ink, {at_mm, 0.0}).mul(weight_of(on.seen));
  return whole > 0.0 ? cv::sum(here)[0] * on.pitch_mm * on.pitch_mm / whole : 0.0;
}

// What is known of a mark and of the ground about it.
struct Known {
  InkRaster ink;  // as blurred as the photo
  double blur_px = 0.9;
  MarkPose pose;
  MarkFit fit;
  cv::Mat1b bare;      // what the mark leaves
  cv::Mat1f relative;  // the light over the ground's, less 1
  Texture texture;
};

// The blur among those tried, by factors of the one before, that explains the light around the mark best.
void choose_blur(const Unrolled& on, const InkRaster& sharp, double before_px, const std::vector<double>& factors,
                 Known& known) {
  const cv::Mat1b around = widened(laid(on, known.ink, known.pose), 0.4, on.pitch_mm) & on.seen;
  double least = 0.0;
  for (std::size_t i = 0; i < factors.size(); ++i) {
    InkRaster tried = blurred_by(before_px * factors[i], on, sharp);
    const double cost = plain_cost(laid(on, tried, known.pose), known.relative, around);
    if (i > 0 && cost >= least) continue;
    least = cost;
    known.ink = std::move(tried);
    known.blur_px = before_px * factors[i];
  }
}

// What the fit so far leaves of the light.
cv::Mat1f left_over(const Unrolled& on, const Known& known) {
  const cv::Mat1f pattern = laid(on, known.ink, known.pose);
  return GroundLoss(weight_of(on.seen), on.pitch_mm)(known.relative - known.fit.amplitude * pattern);
}

// The blur's last steps; no finer is it known.
constexpr double kBlurStep = 1.07;
struct Round {
  std::vector<double> blurs;
  int steps = 3;  // of the fit
};

// What the drawing here and once more at `second` leave of the light together, each as strong as suits.
cv::Mat1f left_by_two(const Unrolled& on, const Known& known, const MarkPeak& second) {
  const GroundLoss loss(weight_of(on.seen), on.pitch_mm);
  const std::array<cv::Mat1f, 2> two = {loss(laid(on, known.ink, known.pose)),
                                        loss(laid(on, known.ink, {second.uv_mm, second.turn_rad}))};
  const cv::Mat1f light = loss(known.relative);
  const std::array<cv::Mat2f, 2> by = {known.texture.spectrum(two[0]), known.texture.spectrum(two[1])};
  const cv::Mat2f data = known.texture.spectrum(light);
  Matrix2d normal;
  normal << known.texture.inner(by[0], by[0]), known.texture.inner(by[0], by[1]), known.texture.inner(by[0], by[1]),
      known.texture.inner(by[1], by[1]);
  normal.diagonal().array() += 1e-9;
  const Vector2d strength =
      normal.inverse() * Vector2d(known.texture.inner(by[0], data), known.texture.inner(by[1], data));
  return cv::Mat1f(light - strength[0] * two[0] - strength[1] * two[1]);
}

// The ground is told from what the mark leaves bare, the texture from what the mark does not explain: in turns.
// False where the mark would leave next to nothing bare, or the fit ends nowhere.
bool refine(const Unrolled& on, const InkRaster& sharp, const std::optional<MarkBlur>& told, Known& known) {
  known.blur_px = told ? told->px : 1.0;
  if (told) known.ink = blurred_by(told->px, on, sharp);
  for (const Round& round :
       {Round{{0.4, 0.6, 0.9, 1.3, 1.9}, 3}, Round{{0.8, 1.0, 1.2}, 3}, Round{{1.0 / kBlurStep, 1.0, kBlurStep}, 6}}) {
    known.bare = on.seen & ~widened(laid(on, known.ink, known.pose), 0.5, on.pitch_mm);
    if (cv::countNonZero(known.bare) < cv::countNonZero(on.seen) / 10) return false;
    known.relative = relative_light(on, weight_of(known.bare));
    const cv::Mat1f left = left_over(on, known);
    known.texture = texture_of(on, clipped(left, known.bare), known.bare);
    const auto fit = MarkFitter(on, known.texture, known.relative).fit(known.ink, known.pose, round.steps);
    if (!fit) return false;
    known.fit = *fit;
    known.pose = fit->pose;
    if (!told) choose_blur(on, sharp, known.blur_px, round.blurs, known);
  }
  return true;
}

// The drawing as it would be were its ink, or its blur, a standard deviation wider.
std::vector<cv::Mat1f> wider_patterns(const Unrolled& on, const InkRaster& sharp, const Known& known,
                                      const std::optional<MarkBlur>& told) {
  constexpr double kEdge_mm = 0.01 / 1.7320508;  // within a tenth of a beam's spot (common practice, no source)
  InkRaster grown = sharp;
  grown.coverage = cv::Mat1f();  // not the drawing's own
  cv::dilate(sharp.coverage, grown.coverage, cv::Mat());
  const double sigma = std::hypot(std::log(kBlurStep) / std::sqrt(3.0), told ? told->ln_sigma : 0.0);
  const cv::Mat1f narrow = laid(on, known.ink, known.pose);
  const cv::Mat1f wide = laid(on, blurred_by(known.blur_px, on, grown), known.pose);
  return {cv::Mat1f(narrow + (kEdge_mm / sharp.pitch_mm) * (wide - narrow)),
          laid(on, blurred_by(known.blur_px * std::exp(sigma), on, sharp), known.pose)};
}

// Place, its covariance, and the amplitude's standard deviation. The place is as sure as the mark's parts agree or as
// the same fit scatters over the bare parts of the blank, whichever is worse.
void tell_place(const Unrolled& on, Known& known, FoundMark& match) {
  const cv::Mat1f residual = left_over(on, known);
  const PlaceByParts place =
      place_by_parts(on, known.texture, known.ink, known.fit, even_bounds(known.ink, kMarkParts), residual);
  known.pose = place.pose;
  match.uv_mm = known.pose.uv_mm;
  match.turn_rad = known.pose.turn_rad;
  match.blur_px = known.blur_px;
  match.amplitude_sigma = 1.0 / std::sqrt(std::max(known.fit.normal(0, 0), 1e-12));
  match.parts_scatter_mm = place.scatter_mm;
  const MarkFitter fitter(on, known.texture, known.relative);
  const Vector3d elsewhere = fitter.scatter_elsewhere(known.ink, known.fit, residual, known.bare);
  const Vector3d wider = (elsewhere.array() / place.covariance.diagonal().array()).cwiseMax(1.0).sqrt();
  match.covariance = Matrix3d(wider.asDiagonal() * place.covariance * wider.asDiagonal());
}

// The first search may take a bold edge for the drawing, such as a tape's for a line: what it leaves over then shows
// the drawing elsewhere, and more strongly.
void look_beside(const Unrolled& on, const InkRaster& sharp, const MarkSearch& search, Known& known) {
  constexpr double kNear_mm = 0.25;  // of the same place: an ink line's width
  constexpr double kBold = 0.5;      // of the chosen one's strength
  const auto strength = [](const Known& of) {
    return std::abs(of.fit.amplitude) * std::sqrt(std::max(0.0, of.fit.normal(0, 0)));
  };
  const MarkPeak beside = PeakFinder(on, known.ink, known.texture, left_over(on, known), on.seen)
                              .find(search, {1, 1}, known.pose.uv_mm, kNear_mm);
  if (std::abs(beside.score) < kBold * strength(known)) return;
  Known other = known;
  other.pose = {beside.uv_mm, beside.turn_rad};
  if (refine(on, sharp, search.blur, other) && strength(other) > strength(known)) known = std::move(other);
}

}  // namespace

std::optional<FoundMark> match_mark(const Unrolled& unrolled, const InkRaster& sharp, const MarkSearch& search) {
  const Unrolled on = without_glare(unrolled);
  const cv::Mat1f weight = weight_of(on.seen);
  constexpr double kFirstBlur_px = 0.9;  // a usual camera's, until the photo tells
  const InkRaster ink = blurred_by(kFirstBlur_px, on, sharp);
  FoundMark match;
  match.ink_seen = share_of_ink_seen(on, ink, search.expected_mm);
  if (match.ink_seen < kLeastInkSeen) return std::nullopt;

  const cv::Mat1f relative = relative_light(on, weight);
  const Texture texture = texture_of(on, clipped(relative, on.seen), on.seen);
  const MarkPeak first = PeakFinder(on, ink, texture, relative, on.seen).find(search, {1, 1});
  Known known{ink, kFirstBlur_px, {first.uv_mm, first.turn_rad}, {}, {}, relative, texture};
  if (!refine(on, sharp, search.blur, known)) return std::nullopt;
  look_beside(on, sharp, search, known);

  tell_place(on, known, match);
  const cv::Mat1f pattern = laid(on, known.ink, known.pose).mul(weight);
  const cv::Mat1f residual = left_over(on, known);
  const cv::Mat1f sharp_pattern = laid(on, sharp, known.pose).mul(weight);
  tell_contrast({on, known.ink, known.pose, pattern, sharp_pattern, wider_patterns(on, sharp, known, search.blur),
                 known.relative, known.bare, known.texture},
                match);

  match.near =
      near_double(on, known.texture, differently_blurred(known.blur_px, on, sharp), known.pose, known.relative);

  // the search once more, by the texture as it is now known
  PeakFinder again(on, known.ink, known.texture, known.relative, on.seen);
  match.peak = again.find(search, {1, 1});
  match.reversed = again.find(search, {-1, -1});
  match.null_scores = null_scores_of(on, known.ink, known.texture, known.relative, known.bare, search);
  PeakFinder left(on, known.ink, known.texture, residual, on.seen);
  // two of them nearer than the blur's own width are one that is wider
  match.second = left.find(search, {1, 1}, match.uv_mm, std::max(0.25, 3.0 * match.blur_px / on.px_per_mm.mean()));
  PeakFinder rest(on, known.ink, known.texture, left_by_two(on, known, *match.second), on.seen);
  for (const Eigen::Vector2i& mirror : {Eigen::Vector2i(1, -1), Eigen::Vector2i(-1, 1), Eigen::Vector2i(-1, -1)})
    match.unexplained = std::max(match.unexplained, std::abs(rest.find(search, mirror).score));
  return match;
}

double chance_of(double score, const std::vector<double>& null_scores) {
  if (null_scores.size() < 6) return 1.0;
  const auto n = static_cast<double>(null_scores.size());
  const double mean = std::accumulate(null_scores.begin(), null_scores.end(), 0.0) / n;
  double square = 0.0;
  for (const double each : null_scores) square += (each - mean) * (each - mean);
  constexpr double kEuler = 0.5772156649;  // Euler's constant: the mean of Gumbel's law, in its scales
  const double scale = std::max(std::sqrt(6.0 * square / (n - 1.0)) / kPi, 0.02 * mean);
  return -std::expm1(-std::exp(-(score - (mean - kEuler * scale)) / scale));
}

}  // namespace jigtrue
