#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/image/mark.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "image/refine_corner.hpp"
#include "image/saddle.hpp"
#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace jigtrue {
namespace {

constexpr double kMinFieldPx = 6.0;        // smaller ones are texture
constexpr double kFieldInCopyPx = 9.0;     // the mark is looked for in a copy shrunk to about this
constexpr double kMarkWindowShare = 0.7;   // of the field: clear of the field's far side even when that is blurred
constexpr double kMaxMarkWindowPx = 20.0;  // a wider one tells the centre no better
constexpr double kCurvatureSigma = 1.0 / 6000.0;  // 1/px: what a wide lens does to a straight edge
constexpr double kHoldsTo = 0.85;                 // share of the field out to which the four colours must hold
constexpr double kMinMarkContrast = 6.0;          // half difference, grey levels
// Ink edges, paper relief and the lens's bend within the window, none of which show in the residuals: from renderings
// with a bend of 2000 px radius; common practice to state no better than a hundredth of a pixel, no source.
constexpr double kMarkSigmaPx = 0.012;

double smallest_scale(const Matrix2d& px_from_mm) { return singular_values(px_from_mm)[1]; }

struct Copy {
  cv::Mat1b luma;
  int factor = 1;
  cv::Point corner;  // of the cut-out in the photo

  [[nodiscard]] Vector2d in_photo(const Vector2d& p) const {
    return Vector2d((p.x() + 0.5) * factor - 0.5 + corner.x, (p.y() + 0.5) * factor - 0.5 + corner.y);
  }
};

std::optional<Copy> cut_out(const cv::Mat1b& luma, const MarkPrediction& prediction, double field_px) {
  Copy copy;
  copy.factor = std::max(1, static_cast<int>(field_px / kFieldInCopyPx));
  const double reach = prediction.search_px + field_px + 2.0 * copy.factor;
  const int left = std::max(0, static_cast<int>(std::floor(prediction.centre_px.x() - reach)));
  const int top = std::max(0, static_cast<int>(std::floor(prediction.centre_px.y() - reach)));
  const int right = std::min(luma.cols, static_cast<int>(std::ceil(prediction.centre_px.x() + reach)) + 1);
  const int bottom = std::min(luma.rows, static_cast<int>(std::ceil(prediction.centre_px.y() + reach)) + 1);
  const int columns = (right - left) / copy.factor;
  const int rows = (bottom - top) / copy.factor;
  if (columns < 16 || rows < 16) return std::nullopt;
  copy.corner = {left, top};
  const cv::Mat1b part = luma(cv::Rect(left, top, columns * copy.factor, rows * copy.factor));
  if (copy.factor == 1) {
    copy.luma = part;
  } else {
    cv::resize(part, copy.luma, cv::Size(columns, rows), 0.0, 0.0, cv::INTER_AREA);
  }
  return copy;
}

// The mark as fitted: centre, and its own axes in the picture for one field's length.
struct Candidate {
  CheckerFit fit;
  double turn_rad = 0.0;   // of the mark against the prediction
  Matrix2d px_from_field;  // columns: one field to the mark's right, one field up
};

// Half a turn makes no difference to the mark: angles are folded into (-90, 90] degrees.
double fold(double angle) {
  const double folded = std::remainder(angle, kPi);
  return folded <= -kPi / 2.0 ? folded + kPi : folded;
}

// Lays the mark's axes along two crossing edges; contrast is signed as in CheckerFit.
Outcome<Candidate> orient(const MarkPrediction& prediction, const CheckerFit& fit) {
  const Matrix2d mm_from_px = prediction.px_from_mm.inverse();
  const Vector2d a_mm = (mm_from_px * fit.edge_a).normalized();
  const Vector2d b_mm = (mm_from_px * fit.edge_b).normalized();
  constexpr double kSkew = 0.2;  // cosine of 78 degrees: what an approximate map may make of a right angle
  if (std::abs(a_mm.dot(b_mm)) > kSkew) return Failure{"its edges do not cross squarely"};

  // Mean direction of edge a and of edge b turned back by a quarter.
  const double a_rad = std::atan2(a_mm.y(), a_mm.x());
  const double b_rad = std::atan2(b_mm.y(), b_mm.x());
  double turn = a_rad + 0.5 * fold(b_rad - kPi / 2.0 - a_rad);
  const auto axes = [&] {
    return Matrix2d(prediction.px_from_mm * prediction.field_mm * Eigen::Rotation2Dd(turn).toRotationMatrix());
  };
  // The bright quadrants are those where S_a S_b has the contrast's sign; the mark's are lower right and upper left.
  const Vector2d upper_right = axes() * Vector2d::Ones();
  const auto side = [&](const Vector2d& edge) { return edge.x() * upper_right.y() - edge.y() * upper_right.x(); };
  if (side(fit.edge_a) * side(fit.edge_b) * fit.contrast > 0.0) turn += kPi / 2.0;
  return Candidate{fit, fold(turn), axes()};
}

CheckerFit rough_fit(const Saddle& saddle, const Vector2d& px) {
  CheckerFit fit;
  fit.px = px;
  fit.edge_a = (unit_vector(saddle.ray_rad[0]) - unit_vector(saddle.ray_rad[2])).normalized();
  fit.edge_b = (unit_vector(saddle.ray_rad[1]) - unit_vector(saddle.ray_rad[3])).normalized();
  fit.level = saddle.level;
  // Between rays 0 and 1, S_a S_b is negative.
  fit.contrast = -saddle.after[0] * saddle.contrast;
  return fit;
}

double window_share(const MarkPrediction& prediction) {
  const double field_px = smallest_scale(prediction.px_from_mm) * prediction.field_mm;
  return std::min(kMarkWindowShare, kMaxMarkWindowPx / field_px);
}

Outcome<Candidate> refine(const cv::Mat1b& luma, const MarkPrediction& prediction, const CheckerFit& rough) {
  CheckerStart start;
  start.px = rough.px;
  start.robust = true;
  start.curvature_sigma = kCurvatureSigma;
  start.edge_a = rough.edge_a;
  start.edge_b = rough.edge_b;
  // A circle on the mark's face stays inside its four fields however it is turned.
  start.window_px = prediction.px_from_mm * (window_share(prediction) * prediction.field_mm);
  auto fit = refine_corner(luma, start);
  if (!fit) return fit.failure();
  return orient(prediction, *fit);
}

struct Field {
  double median = 0.0;
  int samples = 0, even = 0;               // even: near the field's median
  int right = 0;                           // well on its colour's side of the middle level
  int outer_samples = 0, outer_right = 0;  // the same, along the two sides away from the centre
};

Field sample_field(const cv::Mat1b& luma, const Candidate& mark, double right, double up) {
  constexpr int kSteps = 7;       // samples a side of a field
  constexpr double kFrom = 0.15;  // of a field's side: clear of its blurred edge
  const double bright = right * up < 0.0 ? 1.0 : -1.0;
  Field field;
  std::vector<double> greys;
  for (int i = 0; i < kSteps; ++i)
    for (int j = 0; j < kSteps; ++j) {
      const Vector2d place(right * (kFrom + (kHoldsTo - kFrom) * i / (kSteps - 1)),
                           up * (kFrom + (kHoldsTo - kFrom) * j / (kSteps - 1)));
      const Vector2d v = mark.px_from_field * place;
      const Vector2d px = mark.fit.px + v;
      const cv::Point at(static_cast<int>(std::lround(px.x())), static_cast<int>(std::lround(px.y())));
      const bool inside = at.x >= 0 && at.y >= 0 && at.x < luma.cols && at.y < luma.rows;
      const double grey = inside ? static_cast<double>(luma(at)) - mark.fit.light.dot(v) : mark.fit.level;
      const bool holds = bright * (grey - mark.fit.level) > 0.25 * std::abs(mark.fit.contrast);
      const bool outer = i + 1 == kSteps || j + 1 == kSteps;
      greys.push_back(grey);
      ++field.samples;
      field.right += holds ? 1 : 0;
      field.outer_samples += outer ? 1 : 0;
      field.outer_right += outer && holds ? 1 : 0;
    }
  const auto middle = greys.begin() + static_cast<std::ptrdiff_t>(greys.size() / 2);
  std::nth_element(greys.begin(), middle, greys.end());
  field.median = *middle;
  for (const double grey : greys)
    if (std::abs(grey - field.median) < 0.35 * std::abs(mark.fit.contrast)) ++field.even;
  return field;
}

// How much of a field, and of all four, must have its colour.
struct Strictness {
  double one_field = 0.75;    // soiled over a quarter at most
  double outer_sides = 0.75;  // of each field: another pattern of smaller squares shows there
  double all_fields = 0.9;
  double even = 0.85;   // of one grey level
  double unlike = 0.4;  // between like-coloured fields, share of the half contrast
};
// Before the fit, with the edges known to some degrees only.
constexpr Strictness kRough{0.4, 0.3, 0.7, 0.5, 1.0};

std::optional<std::string> fields_contradict(const cv::Mat1b& luma, const Candidate& mark,
                                             const Strictness& strictness) {
  const std::array<Field, 4> fields{sample_field(luma, mark, -1.0, -1.0), sample_field(luma, mark, 1.0, 1.0),
                                    sample_field(luma, mark, 1.0, -1.0), sample_field(luma, mark, -1.0, 1.0)};
  Field all;
  for (const Field& field : fields) {
    if (field.right < strictness.one_field * field.samples) return "one of its four fields does not have its colour";
    if (field.outer_right < strictness.outer_sides * field.outer_samples)
      return "one of its four fields does not reach far enough";
    all.samples += field.samples;
    all.right += field.right;
    all.even += field.even;
  }
  if (all.right < strictness.all_fields * all.samples) return "its four fields are not of one colour each";
  if (all.even < strictness.even * all.samples) return "its four fields are patterned";
  const double unlike = strictness.unlike * std::abs(mark.fit.contrast);
  if (std::abs(fields[0].median - fields[1].median) > unlike || std::abs(fields[2].median - fields[3].median) > unlike)
    return "its like-coloured fields differ";
  return std::nullopt;
}

std::optional<std::string> fit_contradicts(const CheckerFit& fit, double window_px) {
  if (std::abs(fit.contrast) < kMinMarkContrast) return "black and white hardly differ there";
  if (fit.share_kept < 0.7) return "too much of it is covered or soiled";
  if (fit.residual_rms > 0.2 * std::abs(fit.contrast)) return "what is seen there is no clean checker";
  if (std::max(fit.blur_a_px, fit.blur_b_px) > 0.45 * window_px) return "its edges are too blurred";
  return std::nullopt;
}

MarkPosition describe_mark(const Candidate& mark) {
  const double own = mark.fit.white_variance + std::max(0.0, mark.fit.lagged_variance);
  return {mark.fit.px, std::sqrt(own + kMarkSigmaPx * kMarkSigmaPx), 2.0 * std::abs(mark.fit.contrast),
          deg_from_rad(mark.turn_rad)};
}

Outcome<Candidate> judge(const cv::Mat1b& luma, const MarkPrediction& prediction, const Vector2d& px,
                         const Saddle& saddle) {
  auto rough = orient(prediction, rough_fit(saddle, px));
  if (!rough) return rough;
  if (const auto reason = fields_contradict(luma, *rough, kRough)) return Failure{*reason};
  auto mark = refine(luma, prediction, rough->fit);
  if (!mark) return mark;
  if ((mark->fit.px - prediction.centre_px).norm() > prediction.search_px)
    return Failure{"it lies outside the circle searched"};
  const double field_px = smallest_scale(prediction.px_from_mm) * prediction.field_mm;
  if (const auto reason = fit_contradicts(mark->fit, window_share(prediction) * field_px)) return Failure{*reason};
  if (const auto reason = fields_contradict(luma, *mark, {})) return Failure{*reason};
  constexpr double kUpright = 30.0 * kPi / 180.0;  // nearer to upright than to the next quarter
  if (!prediction.any_turn && std::abs(mark->turn_rad) > kUpright) return Failure{"it is turned the wrong way"};
  return mark;
}

}  // namespace

Outcome<MarkPosition> find_mark(const cv::Mat1b& luma, const MarkPrediction& prediction) {
  if (luma.empty() || !prediction.centre_px.allFinite() || !prediction.px_from_mm.allFinite() ||
      !(prediction.field_mm > 0.0) || !(prediction.search_px > 0.0))
    throw std::logic_error("find_mark: empty picture or impossible prediction");
  const double field_px = smallest_scale(prediction.px_from_mm) * prediction.field_mm;
  if (field_px < kMinFieldPx) return Failure{"the mark is too small in the photo to be measured"};
  const auto copy = cut_out(luma, prediction, field_px);
  if (!copy) return Failure{"the mark's place lies outside the photo"};

  std::vector<Candidate> marks;
  std::string nearest_miss = "no mark is to be seen there";
  constexpr std::size_t kMostSaddles = 60;  // strongest ones near the place
  for (const double ring_share : {0.35, 0.55}) {
    const double ring_px = std::max(2.5, ring_share * field_px / copy->factor);
    for (const Saddle& saddle : find_saddles(copy->luma, ring_px, kMostSaddles)) {
      const Vector2d px = copy->in_photo(saddle.px);
      if ((px - prediction.centre_px).norm() > prediction.search_px + 2.0) continue;
      auto mark = judge(luma, prediction, px, saddle);
      if (!mark) {
        nearest_miss = "what is there is no mark: " + mark.reason();
        continue;
      }
      const bool known = std::any_of(marks.begin(), marks.end(), [&](const Candidate& other) {
        return (other.fit.px - mark->fit.px).norm() < 1.0;
      });
      if (!known) marks.push_back(std::move(mark).value());
    }
    if (!marks.empty()) break;
  }
  if (marks.empty()) return Failure{nearest_miss};
  if (marks.size() > 1) return Failure{"more than one mark is near"};
  return describe_mark(marks.front());
}

}  // namespace jigtrue
