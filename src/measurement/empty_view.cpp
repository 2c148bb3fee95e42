#include "jigtrue/measurement/empty_view.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include "measurement/jig_motion.hpp"
#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>

namespace jigtrue {

namespace {

constexpr double kAroundSlots_mm = 14.0;  // looked at beyond the slots' outlines
constexpr double kOfSlot_mm = 2.5;        // a blank may lie that far beside its outline
constexpr double kStructure_mm = 1.5;     // coarser than this is light and shade, finer is structure
constexpr double kEitherCell_mm = 5.0;    // goes with the jig or with the bed as a whole
// Share of the cells beside the slots that are as they were. Shadows of blanks leave half of them, a hand over half the
// jig a third, another jig at the best motion a fifth to a half, but then far from where it should lie.
constexpr double kLeastAgreement = 0.28;
constexpr double kMoreFarOff = 0.25;  // at 1 mm, growing by the square
constexpr int kNodes_px = 16;

cv::Mat1f blurred(const cv::Mat1f& plane, double sigma_px) {
  cv::Mat1f out;
  cv::GaussianBlur(plane, out, {}, sigma_px, sigma_px, cv::BORDER_REPLICATE);
  return out;
}

double value_at(const cv::Mat1f& plane, int row, int column) { return static_cast<double>(plane(row, column)); }

std::vector<cv::Point> small_points(const Polyline2d& line, double shrink, const cv::Rect& roi, int cell) {
  std::vector<cv::Point> points;
  for (const Vector2d& px : line)
    points.emplace_back(
        static_cast<int>(std::lround(16.0 * (((px.x() + 0.5) / shrink - 0.5 - roi.x + 0.5) / cell - 0.5))),
        static_cast<int>(std::lround(16.0 * (((px.y() + 0.5) / shrink - 0.5 - roi.y + 0.5) / cell - 0.5))));
  return points;
}

cv::Mat1b filled(const std::vector<Polyline2d>& lines, double shrink, const cv::Rect& roi, int cell,
                 const cv::Size& size) {
  cv::Mat1b mask = cv::Mat1b::zeros(size);
  for (const Polyline2d& line : lines) {
    const std::vector<cv::Point> points = small_points(line, shrink, roi, cell);
    if (points.size() >= 3)
      cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(1), cv::LINE_8, 4);
  }
  return mask;
}

Polyline2d hull_of(const std::vector<Vector2d>& points) {
  std::vector<cv::Point2f> in;
  in.reserve(points.size());
  for (const Vector2d& p : points) in.emplace_back(static_cast<float>(p.x()), static_cast<float>(p.y()));
  std::vector<cv::Point2f> out;
  cv::convexHull(in, out);
  Polyline2d hull;
  for (const cv::Point2f& p : out) hull.emplace_back(p.x, p.y);
  return hull;
}

// Moved outwards by so many px from its middle, every corner by itself: for outlines that are convex.
Polyline2d grown_outline(const Polyline2d& hull, double by_px) {
  if (hull.size() < 3) return hull;
  std::vector<Vector2d> points;
  for (const Vector2d& p : hull)
    for (int k = 0; k < 8; ++k)
      points.push_back(p + by_px * Vector2d(std::cos(k * kPi / 4.0), std::sin(k * kPi / 4.0)));
  return hull_of(points);
}

}  // namespace

using registration::find_motion;
using registration::Level;
using registration::Motion;
using registration::robust_sigma;

class EmptyRegistration {
 public:
  EmptyRegistration(const Photo& load, const Photo& empty, const Camera& camera, const Fixture& fixture,
                    const std::vector<BlankPlace>& places)
      : load_(load), empty_(empty), camera_(camera), fixture_(fixture), places_(places) {}

  Outcome<EmptyView> run() {
    if (!lay_out()) return Failure{"no slot lies in the picture"};
    Level level = make_level();
    level.gain = first_gain(level.beside);
    level.noise = robust_sigma(level.load - level.gain * level.empty, level.beside, 0.3);
    const auto found = find_motion(level);
    if (!found) return Failure{"the jig does not stand where it stood in it"};
    level.gain = found->gain;
    view_.motion = {found->motion.head<2>(), deg_from_rad(found->motion[2])};
    view_.place_sigma_px =
        px_per_mm_ * std::sqrt(std::max(found->covariance(0, 0), found->covariance(1, 1))) + kLeastPlaceSigma_px;
    compare(level, found->motion);
    if (view_.agreement < kLeastAgreement + kMoreFarOff * found->motion.head<2>().squaredNorm())
      return Failure{"beside the slots it shows something else than the load's photo does"};
    render(level, found->motion);
    return std::move(view_);
  }

 private:
  static constexpr double kLeastPlaceSigma_px = 0.1;
  static constexpr double kShade = 0.75;  // of the light

  const Photo& load_;
  const Photo& empty_;
  const Camera& camera_;
  const Fixture& fixture_;
  const std::vector<BlankPlace>& places_;
  EmptyView view_;
  SearchPicture small_load_;
  SearchPicture small_empty_;
  std::vector<Polyline2d> outlines_;  // px of the load, convex
  Polyline2d around_;                 // all slots and what lies about them
  Polyline2d among_;                  // all slots and what lies between them
  double px_per_mm_ = 0.0;            // of the load
  double height_mm_ = 0.0;
  cv::Rect roi_;  // px of the small picture
  std::array<cv::Mat1f, 3> load_planes_;
  std::array<cv::Mat1f, 3> empty_planes_;
  cv::Mat1f light_;  // load over empty

  [[nodiscard]] double small_px_per_mm() const { return px_per_mm_ / small_load_.shrink; }

  bool lay_out() {
    std::vector<Vector2d> all;
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < fixture_.slots.size(); ++i) {
      const Slot& slot = fixture_.slots[i];
      std::vector<Vector2d> own;
      for (const Polyline2d& line : outline_polylines(camera_, slot.blank, slot.seat, places_[i]))
        own.insert(own.end(), line.begin(), line.end());
      if (own.size() < 3) continue;
      outlines_.push_back(hull_of(own));
      all.insert(all.end(), own.begin(), own.end());
      height_mm_ += design_height_mm(slot.blank, slot.seat, places_[i], 0.0);
      const double density = px_per_mm_at(camera_, {places_[i].centre_mm.x(), places_[i].centre_mm.y(), 0.0});
      if (density > 0.0) least = std::min(least, density);
    }
    if (outlines_.empty() || !std::isfinite(least)) return false;
    height_mm_ *= 0.7 / static_cast<double>(outlines_.size());  // of the jig's face rather than the crown
    px_per_mm_ = least;
    const int shrink = search_shrink(least, std::numeric_limits<double>::infinity());  // the jig, not a blank
    small_load_ = make_search_picture(load_, shrink);
    small_empty_ = make_search_picture(empty_, shrink);
    around_ = grown_outline(hull_of(all), kAroundSlots_mm * px_per_mm_);
    among_ = grown_outline(hull_of(all), 4.0 * px_per_mm_);
    Vector2d low = around_.front();
    Vector2d high = around_.front();
    for (const Vector2d& p : around_) {
      low = low.cwiseMin(p);
      high = high.cwiseMax(p);
    }
    const double s = small_load_.shrink;
    const cv::Rect box(static_cast<int>(std::floor(low.x() / s)), static_cast<int>(std::floor(low.y() / s)),
                       static_cast<int>(std::ceil((high.x() - low.x()) / s)) + 1,
                       static_cast<int>(std::ceil((high.y() - low.y()) / s)) + 1);
    roi_ = box & cv::Rect(0, 0, small_load_.photo.luma.cols, small_load_.photo.luma.rows);
    return roi_.width > 4 * kNodes_px && roi_.height > 4 * kNodes_px;
  }

  [[nodiscard]] std::array<cv::Mat1f, 3> planes_of(const Photo& photo) const {
    std::array<cv::Mat1f, 3> planes;
    photo.luma(roi_).convertTo(planes[0], CV_32F);
    for (std::size_t k = 1; k < 3; ++k) {
      planes[k] = cv::Mat1f::zeros(roi_.size());
      if (!photo.has_colour()) continue;
      const cv::Mat1b& chroma = k == 1 ? photo.cb : photo.cr;
      cv::Mat1f x(roi_.size());
      cv::Mat1f y(roi_.size());
      for (int r = 0; r < roi_.height; ++r)
        for (int c = 0; c < roi_.width; ++c) {
          const Vector2d at = photo.chroma.position(Vector2d(c + roi_.x, r + roi_.y));
          x(r, c) = static_cast<float>(at.x());
          y(r, c) = static_cast<float>(at.y());
        }
      cv::Mat1f plane;
      chroma.convertTo(plane, CV_32F, 1.0, -128.0);
      cv::remap(plane, planes[k], x, y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
    }
    return planes;
  }

  // How a place seen at each pixel moves in the small picture with the jig.
  void add_motions(Level& level) const {
    const cv::Size nodes(roi_.width / kNodes_px + 2, roi_.height / kNodes_px + 2);
    std::array<cv::Mat1f, 3> x;
    std::array<cv::Mat1f, 3> y;
    for (std::size_t k = 0; k < 3; ++k) {
      x[k] = cv::Mat1f::zeros(nodes);
      y[k] = cv::Mat1f::zeros(nodes);
    }
    const Vector2d centre = common_centre_mm(fixture_);
    const double s = small_load_.shrink;
    for (int r = 0; r < nodes.height; ++r)
      for (int c = 0; c < nodes.width; ++c) {
        const Vector2d px((c * kNodes_px + roi_.x + 0.5) * s - 0.5, (r * kNodes_px + roi_.y + 0.5) * s - 0.5);
        const auto bed = bed_point_at(camera_, px, height_mm_);
        if (!bed) continue;
        const auto seen = project_bed_point_with_jacobian(camera_, {bed->mm.x(), bed->mm.y(), height_mm_});
        if (!seen) continue;
        const Vector2d arm = bed->mm - centre;
        const Matrix2d by_shift = seen->by_bed_point.leftCols<2>() / s;
        const Vector2d by_turn = by_shift * Vector2d(-arm.y(), arm.x());
        x[0](r, c) = static_cast<float>(by_shift(0, 0));
        x[1](r, c) = static_cast<float>(by_shift(0, 1));
        x[2](r, c) = static_cast<float>(by_turn.x());
        y[0](r, c) = static_cast<float>(by_shift(1, 0));
        y[1](r, c) = static_cast<float>(by_shift(1, 1));
        y[2](r, c) = static_cast<float>(by_turn.y());
      }
    cv::Mat1f at_x(roi_.size());
    cv::Mat1f at_y(roi_.size());
    for (int r = 0; r < roi_.height; ++r)
      for (int c = 0; c < roi_.width; ++c) {
        at_x(r, c) = static_cast<float>(c) / kNodes_px;
        at_y(r, c) = static_cast<float>(r) / kNodes_px;
      }
    for (std::size_t k = 0; k < 3; ++k) {
      cv::remap(x[k], level.by_x[k], at_x, at_y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
      cv::remap(y[k], level.by_y[k], at_x, at_y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
    }
  }

  [[nodiscard]] std::vector<Polyline2d> slots_parts() const {
    std::vector<Polyline2d> parts;
    for (const Polyline2d& outline : outlines_) parts.push_back(grown_outline(outline, kOfSlot_mm * px_per_mm_));
    return parts;
  }

  Level make_level() {
    load_planes_ = planes_of(small_load_.photo);
    empty_planes_ = planes_of(small_empty_.photo);
    constexpr double kSoften_px = 0.7;  // so that places between pixels look like those upon them
    Level level;
    const auto structure = [&](const cv::Mat1f& plane) {
      return cv::Mat1f(blurred(plane, kSoften_px) - blurred(plane, kStructure_mm * small_px_per_mm()));
    };
    level.load = structure(load_planes_[0]);
    level.empty = structure(empty_planes_[0]);
    add_motions(level);
    level.beside = filled({around_}, small_load_.shrink, roi_, 1, roi_.size());
    level.beside.setTo(0, filled(slots_parts(), small_load_.shrink, roi_, 1, roi_.size()));
    level.of_jig = filled({among_}, small_load_.shrink, roi_, 1, roi_.size());
    level.cell_px = std::max(static_cast<int>(std::lround(kEitherCell_mm * small_px_per_mm())), 2);
    return level;
  }

  [[nodiscard]] double first_gain(const cv::Mat1b& beside) const {
    std::vector<double> load;
    std::vector<double> empty;
    for (int r = 0; r < roi_.height; r += 3)
      for (int c = 0; c < roi_.width; c += 3) {
        if (beside(r, c) == 0) continue;
        load.push_back(static_cast<double>(load_planes_[0](r, c)));
        empty.push_back(static_cast<double>(empty_planes_[0](r, c)));
      }
    return std::clamp((median(load).value_or(1.0) + 1.0) / (median(empty).value_or(1.0) + 1.0), 0.3, 3.0);
  }

  // The ratio of light beside the slots, carried on smoothly across them.
  void match_light(const Level& level, const cv::Mat1f& moved_luma, const cv::Mat1f& agreeing) {
    const double reach_px = 12.0 * small_px_per_mm();
    cv::Mat1f product(roi_.size());
    cv::Mat1f square(roi_.size());
    double mean_square = 0.0;
    double mean_product = 0.0;
    for (int r = 0; r < roi_.height; ++r)
      for (int c = 0; c < roi_.width; ++c) {
        const float w = agreeing(r, c);
        product(r, c) = w * load_planes_[0](r, c) * moved_luma(r, c);
        square(r, c) = w * moved_luma(r, c) * moved_luma(r, c);
        mean_product += value_at(product, r, c);
        mean_square += value_at(square, r, c);
      }
    const double usual = mean_square > 0.0 ? mean_product / mean_square : level.gain;
    const double prior = 0.02 * mean_square / static_cast<double>(roi_.area()) + 1e-3;
    const cv::Mat1f above = blurred(product, reach_px) + prior * usual;
    const cv::Mat1f below = blurred(square, reach_px) + prior;
    light_ = above / below;
  }

  void compare(Level& level, const Motion& motion) {
    const cv::Mat1f structure = level.moved(level.empty, motion, cv::INTER_LINEAR);
    level.noise = robust_sigma(level.load - level.gain * structure, level.beside, 0.3);
    level.settle_rest();
    const cv::Mat1f with_jig = level.cell_costs(structure);
    std::array<cv::Mat1f, 3> moved;
    for (std::size_t k = 0; k < 3; ++k) moved[k] = level.moved(empty_planes_[k], motion, cv::INTER_CUBIC);
    // beside the slots, cells that go with the bed show it as it was
    cv::Mat1f agreeing = cv::Mat1f::zeros(roi_.size());
    cv::Mat1f shown = structure.clone();
    for (int r = 0; r < roi_.height; ++r)
      for (int c = 0; c < roi_.width; ++c) {
        if (level.beside(r, c) == 0) continue;
        const int i = r / level.cell_px;
        const int j = c / level.cell_px;
        if (level.at_rest(i, j) < 0.8F * with_jig(i, j)) {
          shown(r, c) = level.empty(r, c);
          for (std::size_t k = 0; k < 3; ++k) moved[k](r, c) = empty_planes_[k](r, c);
        }
        const double z = (value_at(level.load, r, c) - level.gain * value_at(shown, r, c)) / (4.0 * level.noise);
        if (std::abs(z) < 1.0) agreeing(r, c) = static_cast<float>((1.0 - z * z) * (1.0 - z * z));
      }
    match_light(level, moved[0], agreeing);
    judge_cells(level, moved, agreeing);
  }

  // What a cell of the load shows beyond the empty photo.
  struct CellChange {
    double unlike = 0.0;  // what the empty photo under a light that varies linearly leaves, variance over that of noise
    Vector2d tint = Vector2d::Zero();  // chroma beyond the empty photo's, over the brightness
    double tint_noise = 0.0;
    double light = 1.0;                  // over that of the surroundings
    double shade = 1.0;                  // over the empty photo's
    Vector2d colour = Vector2d::Zero();  // chroma over the brightness
  };

  // Cell by cell: what is left of the load once the empty photo under a light that varies linearly is taken away, and
  // what colour it has beyond the empty photo's.
  void judge_cells(const Level& level, const std::array<cv::Mat1f, 3>& moved, const cv::Mat1f& agreeing) {
    cv::Mat1b unchanged(roi_.size());
    for (int r = 0; r < roi_.height; ++r)
      for (int c = 0; c < roi_.width; ++c) unchanged(r, c) = agreeing(r, c) > 0.3F ? 1 : 0;
    std::array<cv::Mat1f, 3> apart;
    for (std::size_t k = 0; k < 3; ++k) {
      apart[k] = load_planes_[k] - light_.mul(moved[k]);
      view_.noise[k] = robust_sigma(apart[k], unchanged, 0.3);
    }
    const int cell = std::max(static_cast<int>(std::lround(EmptyView::kCell_mm * small_px_per_mm())), 3);
    const cv::Size cells(roi_.width / cell, roi_.height / cell);
    view_.shrink_ = small_load_.shrink;
    view_.roi_ = roi_;
    view_.cell_px_ = cell;
    view_.changed_ = cv::Mat1b::zeros(cells);
    view_.foreign_ = cv::Mat1b::zeros(cells);
    view_.of_slots_ = filled(slots_parts(), small_load_.shrink, roi_, cell, cells);
    cv::Mat1b beside = filled({among_}, small_load_.shrink, roi_, cell, cells);
    beside.setTo(0, view_.of_slots_);
    tell_changes(cell_changes(level, moved, unchanged, cells), beside);
    view_.agreement = 1.0 - view_.share_of(view_.changed_, beside).share;
  }

  [[nodiscard]] std::vector<CellChange> cell_changes(const Level& level, const std::array<cv::Mat1f, 3>& moved,
                                                     const cv::Mat1b& unchanged, const cv::Size& cells) const {
    constexpr double kUneven = 0.01;  // of the brightness: light that bends more than linearly within a cell
    const double blur_noise = robust_sigma(level.load - blurred(level.load, 1.0), unchanged, 0.2);
    const int cell = view_.cell_px_;
    const cv::Mat1f load = blurred(load_planes_[0], 0.7);
    const cv::Mat1f empty = blurred(light_.mul(moved[0]), 0.7);
    cv::Mat1f dx;
    cv::Mat1f dy;
    cv::Sobel(empty, dx, CV_32F, 1, 0, 3, 0.125);
    cv::Sobel(empty, dy, CV_32F, 0, 1, 3, 0.125);
    const double place_variance = std::pow(view_.place_sigma_px / small_load_.shrink, 2);
    std::vector<CellChange> changes;
    changes.reserve(static_cast<std::size_t>(cells.area()));
    for (int r = 0; r < cells.height; ++r)
      for (int c = 0; c < cells.width; ++c) {
        Matrix3d normal = Matrix3d::Zero();
        Vector3d right = Vector3d::Zero();
        double squares = 0.0;
        double slopes = 0.0;
        double brightness = 0.0;
        double expected = 0.0;
        double light = 0.0;
        Vector2d tint = Vector2d::Zero();
        const double middle = 0.5 * (cell - 1);
        for (int i = 0; i < cell; ++i)
          for (int j = 0; j < cell; ++j) {
            const int y = r * cell + i;
            const int x = c * cell + j;
            const double l = value_at(load, y, x);
            const double e = value_at(empty, y, x);
            const Vector3d row = e * Vector3d(1.0, (j - middle) / cell, (i - middle) / cell);
            normal += row * row.transpose();
            right += l * row;
            squares += l * l;
            slopes += value_at(dx, y, x) * value_at(dx, y, x) + value_at(dy, y, x) * value_at(dy, y, x);
            brightness += l;
            expected += e;
            light += value_at(light_, y, x);
            tint += Vector2d(value_at(load_planes_[1], y, x), value_at(load_planes_[2], y, x));
          }
        const double n = cell * cell;
        normal.diagonal().array() += 1e-3;
        const Vector3d solution = normal.ldlt().solve(right);
        const double factor = brightness / std::max(expected, 1.0);
        Vector2d usual = Vector2d::Zero();
        for (int i = 0; i < cell; ++i)
          for (int j = 0; j < cell; ++j) {
            const int y = r * cell + i;
            const int x = c * cell + j;
            usual += factor * value_at(light_, y, x) * Vector2d(value_at(moved[1], y, x), value_at(moved[2], y, x));
          }
        const double left = std::max(squares - right.dot(solution), 0.0) / (n - 3.0);
        const double uneven = kUneven * brightness / n;
        const double noise = blur_noise * blur_noise + place_variance * slopes / n + uneven * uneven;
        const double bright = std::max(brightness / n, 10.0);
        CellChange change;
        change.unlike = left / noise;
        change.tint = (tint - usual) / n / bright;
        change.tint_noise = 4.0 * std::max(view_.noise[1], view_.noise[2]) / std::sqrt(n / 4.0) / bright;
        change.light = factor;
        change.shade = factor * light / n;
        change.colour = tint / n / bright;
        changes.push_back(change);
      }
    return changes;
  }

  // How much is a change: four times what cells show in which no blank may lie, most of which are as they were.
  void tell_changes(const std::vector<CellChange>& changes, const cv::Mat1b& beside) {
    constexpr double kOfUsual = 4.0;
    constexpr double kDarkest = 0.45;  // of the light beside: a blank's own shade in a groove
    constexpr double kBrightest = 1.45;
    constexpr double kForeignTint = 0.07;
    std::vector<double> unlike;
    std::vector<double> tints;
    for (std::size_t i = 0; i < changes.size(); ++i)
      if (beside.at<unsigned char>(static_cast<int>(i) / beside.cols, static_cast<int>(i) % beside.cols) != 0) {
        unlike.push_back(changes[i].unlike);
        tints.push_back(changes[i].tint.norm());
      }
    const double most_unlike = std::clamp(kOfUsual * median(unlike).value_or(1.0), 0.6, 4.0);
    const double most_tint = std::clamp(kOfUsual * median(tints).value_or(1.0), 0.015, 0.035);
    const Vector2d blanks = colour_of_blanks(changes, most_unlike);
    for (int r = 0; r < beside.rows; ++r)
      for (int c = 0; c < beside.cols; ++c) {
        const CellChange& change =
            changes[static_cast<std::size_t>(r) * static_cast<std::size_t>(beside.cols) + static_cast<std::size_t>(c)];
        const bool tinted = change.tint.norm() > std::max(most_tint, change.tint_noise);
        const bool other_light = change.light < kDarkest || change.light > kBrightest;
        view_.changed_(r, c) = change.unlike > most_unlike || tinted || other_light ? 1 : 0;
        view_.foreign_(r, c) =
            foreign_tint(change, blanks) > std::max(kForeignTint, change.tint_noise) || change.light > kBrightest ? 1
                                                                                                                  : 0;
      }
  }

  // Chroma over the brightness, of what lies in the slots and was not there; none where hardly anything does.
  [[nodiscard]] Vector2d colour_of_blanks(const std::vector<CellChange>& changes, double most_unlike) const {
    std::vector<double> blue;
    std::vector<double> red;
    for (int r = 0; r < view_.of_slots_.rows; ++r)
      for (int c = 0; c < view_.of_slots_.cols; ++c) {
        const CellChange& change =
            changes[static_cast<std::size_t>(r) * static_cast<std::size_t>(view_.of_slots_.cols) +
                    static_cast<std::size_t>(c)];
        if (view_.of_slots_(r, c) == 0 || change.unlike <= most_unlike || change.shade < kShade) continue;
        blue.push_back(change.colour.x());
        red.push_back(change.colour.y());
      }
    return {median(blue).value_or(0.0), median(red).value_or(0.0)};
  }

  // In a blank's shade lies the light that it throws, of its own colour: what differs from that is foreign.
  [[nodiscard]] static double foreign_tint(const CellChange& change, const Vector2d& blanks) {
    const double thrown = blanks.norm();
    if (change.shade >= kShade || thrown < 1e-3) return change.tint.norm();
    const double own = std::max(change.tint.dot(blanks) / thrown, 0.0);
    return (change.tint - own * blanks / thrown).norm();
  }

  // The empty photo at the load's own resolution.
  void render(const Level& level, const Motion& motion) {
    const auto s = static_cast<int>(small_load_.shrink);
    view_.known = cv::Rect(roi_.x * s, roi_.y * s, roi_.width * s, roi_.height * s) &
                  cv::Rect(0, 0, load_.width_px(), load_.height_px());
    view_.photo = empty_;
    view_.photo.luma = empty_.luma.clone();
    const auto moved_plane = [&](const cv::Mat1b& plane, const ChromaGrid* grid, double zero) {
      // in px of the plane: from each of its pixels to the luma's, there the motion, and back
      cv::Mat1b out = plane.clone();
      const Vector2d pixels = grid != nullptr ? grid->pixels : Vector2d(1.0, 1.0);
      const Vector2d lead = grid != nullptr ? grid->lead_px : Vector2d(0.0, 0.0);
      const cv::Rect part(static_cast<int>(view_.known.x / pixels.x()), static_cast<int>(view_.known.y / pixels.y()),
                          static_cast<int>(view_.known.width / pixels.x()),
                          static_cast<int>(view_.known.height / pixels.y()));
      const cv::Rect inside = part & cv::Rect(0, 0, plane.cols, plane.rows);
      cv::Mat1f x(inside.size());
      cv::Mat1f y(inside.size());
      cv::Mat1f light(inside.size());
      for (int r = 0; r < inside.height; ++r)
        for (int c = 0; c < inside.width; ++c) {
          const Vector2d luma_px =
              (Vector2d(c + inside.x, r + inside.y).array() + 0.5) * pixels.array() - 0.5 - lead.array();
          const int i = std::clamp(static_cast<int>((luma_px.y() + 0.5) / s) - roi_.y, 0, roi_.height - 1);
          const int j = std::clamp(static_cast<int>((luma_px.x() + 0.5) / s) - roi_.x, 0, roi_.width - 1);
          Vector2d by = Vector2d::Zero();
          for (std::size_t k = 0; k < 3; ++k)
            by += s * motion[static_cast<Eigen::Index>(k)] *
                  Vector2d(value_at(level.by_x[k], i, j), value_at(level.by_y[k], i, j));
          x(r, c) = static_cast<float>(c + inside.x - by.x() / pixels.x());
          y(r, c) = static_cast<float>(r + inside.y - by.y() / pixels.y());
          light(r, c) = light_(i, j);
        }
      cv::Mat1b moved;
      cv::remap(plane, moved, x, y, cv::INTER_CUBIC, cv::BORDER_REPLICATE);
      for (int r = 0; r < inside.height; ++r)
        for (int c = 0; c < inside.width; ++c)
          out(r + inside.y, c + inside.x) =
              cv::saturate_cast<unsigned char>(zero + value_at(light, r, c) * (moved(r, c) - zero));
      return out;
    };
    view_.photo.luma = moved_plane(empty_.luma, nullptr, 0.0);
    if (!empty_.has_colour()) return;
    view_.photo.cb = moved_plane(empty_.cb, &empty_.chroma, 128.0);
    view_.photo.cr = moved_plane(empty_.cr, &empty_.chroma, 128.0);
  }
};

cv::Mat1b EmptyView::cells_within(const Polyline2d& outline_px) const {
  return filled({outline_px}, shrink_, roi_, cell_px_, changed_.size());
}

PartChange EmptyView::share_of(const cv::Mat1b& which, const cv::Mat1b& where) const {
  PartChange change;
  int count = 0;
  for (int r = 0; r < which.rows; ++r)
    for (int c = 0; c < which.cols; ++c) {
      if (where(r, c) == 0) continue;
      ++change.cells;
      count += which(r, c);
    }
  if (change.cells > 0) change.share = static_cast<double>(count) / change.cells;
  return change;
}

PartChange EmptyView::change_within(const Polyline2d& outline_px) const {
  return share_of(changed_, cells_within(outline_px));
}

PartChange EmptyView::change_between(const Polyline2d& inner_px, const Polyline2d& outer_px) const {
  cv::Mat1b where = cells_within(outer_px);
  where.setTo(0, cells_within(inner_px));
  where.setTo(0, of_slots_);
  return share_of(foreign_, where);
}

Outcome<EmptyView> register_empty(const Photo& load, const Photo& empty, const Camera& camera, const Fixture& fixture,
                                  const std::vector<BlankPlace>& places) {
  return EmptyRegistration(load, empty, camera, fixture, places).run();
}

}  // namespace jigtrue
