#include "jigtrue/measurement/fixture_marks.hpp"

#include "jigtrue/base/products.hpp"
#include "jigtrue/calibration/mark_settings.hpp"
#include "jigtrue/calibration/witness.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

// How well the marks' places on the fixture are known: measured with callipers. Common practice, no source.
constexpr double kPlaceSigma_mm = 0.05;
// A fixture put down by hand, then one that lies far off.
constexpr std::array<double, 3> kSearches_mm{kMarkSearch_mm, 15.0, 30.0};
constexpr double kSearchOnceKnown_mm = 2.5;  // once some marks say where the fixture is

struct PlacedObservation {
  std::size_t index = 0;
  Vector2d nominal_mm = Vector2d::Zero();
  Vector2d seen_mm = Vector2d::Zero();
  double sigma_mm = 0.0;  // of the mark's own position in the picture, one axis
  double mm_per_px = 0.0;
  Eigen::Matrix<double, 2, Eigen::Dynamic> by_camera;  // d seen_mm / d camera parameters
};

std::optional<PlacedObservation> observe(const Camera& camera, const Fixture& fixture, const SeenFixtureMark& seen) {
  const Vector3d& nominal = fixture.marks_mm[seen.index];
  const auto bed = bed_point_at(camera, seen.mark.px, nominal.z());
  if (!bed) return std::nullopt;
  const auto projection = project_bed_point_with_jacobian(camera, {bed->mm.x(), bed->mm.y(), nominal.z()});
  if (!projection) return std::nullopt;
  const Matrix2d bed_from_px = projection->by_bed_point.leftCols<2>().inverse();
  PlacedObservation observation;
  observation.index = seen.index;
  observation.nominal_mm = nominal.head<2>();
  observation.seen_mm = bed->mm;
  observation.mm_per_px = std::sqrt(std::abs(bed_from_px.determinant()));
  observation.sigma_mm = seen.mark.sigma_px * observation.mm_per_px;
  observation.by_camera = -bed_from_px * projection->by_camera;
  return observation;
}

struct RigidFit {
  Vector2d shift_mm = Vector2d::Zero();  // of the common centre
  double turn_rad = 0.0;
};

Vector2d at(const RigidFit& fit, const Vector2d& centre, const Vector2d& nominal) {
  return centre + fit.shift_mm + Eigen::Rotation2Dd(fit.turn_rad) * (nominal - centre);
}

// Exact least squares of a plane's shift and turn, all marks of one weight: they differ by less than their places'
// common uncertainty. (Kabsch's solution in the plane.)
RigidFit fit_rigid(const std::vector<PlacedObservation>& marks, const Vector2d& centre) {
  Vector2d nominal = Vector2d::Zero();
  Vector2d seen = Vector2d::Zero();
  for (const auto& m : marks) {
    nominal += m.nominal_mm / static_cast<double>(marks.size());
    seen += m.seen_mm / static_cast<double>(marks.size());
  }
  double cosine = 0.0;
  double sine = 0.0;
  for (const auto& m : marks) {
    const Vector2d a = m.nominal_mm - nominal;
    const Vector2d b = m.seen_mm - seen;
    cosine += a.dot(b);
    sine += a.x() * b.y() - a.y() * b.x();
  }
  RigidFit fit;
  fit.turn_rad = std::atan2(sine, cosine);
  fit.shift_mm = seen + Eigen::Rotation2Dd(fit.turn_rad) * (centre - nominal) - centre;
  return fit;
}

double residual_mm(const RigidFit& fit, const Vector2d& centre, const PlacedObservation& mark) {
  return (mark.seen_mm - at(fit, centre, mark.nominal_mm)).norm();
}

// The largest set of marks that one placement explains, from every pair; nothing when no pair keeps its distance.
std::vector<PlacedObservation> agreeing(const std::vector<PlacedObservation>& marks, const Vector2d& centre) {
  std::vector<PlacedObservation> best;
  double best_sum = 0.0;
  for (std::size_t i = 0; i < marks.size(); ++i)
    for (std::size_t j = i + 1; j < marks.size(); ++j) {
      const RigidFit fit = fit_rigid({marks[i], marks[j]}, centre);
      if (residual_mm(fit, centre, marks[i]) > 0.5 * kContradicts_mm) continue;
      const double span = (marks[i].nominal_mm - marks[j].nominal_mm).norm();
      std::vector<PlacedObservation> set;
      double sum = 0.0;
      for (const auto& m : marks) {
        // a near pair says little of the turn far away
        const double far =
            std::max(0.0, (m.nominal_mm - 0.5 * (marks[i].nominal_mm + marks[j].nominal_mm)).norm() / span - 1.0);
        const double off = residual_mm(fit, centre, m);
        if (off > kContradicts_mm * (1.0 + far)) continue;
        set.push_back(m);
        sum += off;
      }
      if (set.size() > best.size() || (set.size() == best.size() && sum < best_sum)) {
        best = set;
        best_sum = sum;
      }
    }
  return best;
}

using Design = Eigen::Matrix<double, Eigen::Dynamic, 3>;

Design design_of(const std::vector<PlacedObservation>& marks, const Vector2d& centre) {
  Design design(2 * static_cast<Eigen::Index>(marks.size()), 3);
  for (std::size_t i = 0; i < marks.size(); ++i) {
    const Vector2d arm = marks[i].nominal_mm - centre;
    design.middleRows<2>(2 * static_cast<Eigen::Index>(i)) << 1.0, 0.0, -arm.y(), 0.0, 1.0, arm.x();
  }
  return design;
}

// Of shift and turn: the marks' own noise and places, the camera's covariance carried through the fit, and what the
// lens model misses the lens by, which neighbouring marks share and so no number of marks averages out.
Matrix3d covariance_of(const std::vector<PlacedObservation>& marks, const Vector2d& centre, const RigidFit& fit,
                       const Camera& camera, double lens_error_px) {
  const Design design = design_of(marks, centre);
  const Matrix3d inverse = (design.transpose() * design).inverse();
  double squares = 0.0;
  double finder = 0.0;
  for (const auto& m : marks) {
    squares += std::pow(residual_mm(fit, centre, m), 2);
    finder = std::max(finder, m.sigma_mm);
  }
  const double freedom = 2.0 * static_cast<double>(marks.size()) - 3.0;
  const double pooled = (kPriorWeight * kPlaceSigma_mm * kPlaceSigma_mm + squares) / (kPriorWeight + freedom);
  Matrix3d covariance = std::max(pooled, finder * finder) * inverse;
  if (camera.covariance.size() > 0) {
    MatrixXd by_camera(design.rows(), camera.covariance.cols());
    for (std::size_t i = 0; i < marks.size(); ++i)
      by_camera.middleRows(2 * static_cast<Eigen::Index>(i), 2) = marks[i].by_camera;
    const MatrixXd answer = times(inverse, transpose_times(design, by_camera));
    covariance += propagated(answer, camera.covariance);
  }
  double span = 1.0;
  for (const auto& a : marks)
    for (const auto& b : marks) span = std::max(span, (a.nominal_mm - b.nominal_mm).norm());
  const double lens_mm = lens_error_px / std::sqrt(2.0) * marks.front().mm_per_px;
  covariance(0, 0) += lens_mm * lens_mm;
  covariance(1, 1) += lens_mm * lens_mm;
  covariance(2, 2) += 2.0 * lens_mm * lens_mm / (span * span);
  return covariance;
}

std::string mark_name(const Fixture& fixture, std::size_t index) {
  char text[80];
  std::snprintf(text, sizeof text, "mark %zu of the fixture, (%g, %g)", index + 1, fixture.marks_mm[index].x(),
                fixture.marks_mm[index].y());
  return text;
}

std::vector<SeenFixtureMark> look_for(const cv::Mat1b& luma, const Camera& camera, const Fixture& fixture,
                                      const std::optional<FixturePlacement>& known, double search_mm,
                                      std::vector<std::string>& why_not) {
  std::vector<SeenFixtureMark> seen;
  why_not.assign(fixture.marks_mm.size(), "");
  const Vector2d centre = common_centre_mm(fixture);
  for (std::size_t i = 0; i < fixture.marks_mm.size(); ++i) {
    Vector3d place = fixture.marks_mm[i];
    if (known) place.head<2>() = placed_mm(*known, centre, place.head<2>());
    const auto prediction = predict_mark(camera, place, search_mm);
    if (!prediction) {
      why_not[i] = "it lies outside the picture";
    } else if (auto mark = find_mark(luma, *prediction)) {
      seen.push_back({i, *mark});
    } else {
      why_not[i] = mark.reason();
    }
  }
  return seen;
}

}  // namespace

Vector2d placed_mm(const FixturePlacement& placement, const Vector2d& common_centre_mm, const Vector2d& nominal_mm) {
  return at({placement.shift_mm, rad_from_deg(placement.turn_deg)}, common_centre_mm, nominal_mm);
}

Outcome<MarkedPlacement> fit_fixture_to_marks(const Camera& camera, const Fixture& fixture,
                                              const std::vector<SeenFixtureMark>& seen, double lens_error_px) {
  std::vector<PlacedObservation> all;
  for (const SeenFixtureMark& mark : seen)
    if (const auto observation = observe(camera, fixture, mark)) all.push_back(*observation);
  if (all.size() < 2)
    return Failure{"only " + std::to_string(all.size()) + " of its " + std::to_string(fixture.marks_mm.size()) +
                   " marks were found, two are needed"};
  const Vector2d centre = common_centre_mm(fixture);
  const std::vector<PlacedObservation> used = agreeing(all, centre);
  if (used.size() < 2 || 2 * used.size() < all.size() + (all.size() > 2 ? 1 : 0))
    return Failure{"the marks found do not lie to each other as the fixture file says"};
  const RigidFit fit = fit_rigid(used, centre);
  const Matrix3d covariance = covariance_of(used, centre, fit, camera, lens_error_px);
  MarkedPlacement result;
  result.placement.shift_mm = fit.shift_mm;
  result.placement.turn_deg = deg_from_rad(fit.turn_rad);
  result.placement.from = "marks";
  result.placement.shift_u_mm = 2.0 * std::sqrt(std::max(covariance(0, 0), covariance(1, 1)));
  result.placement.turn_u_deg = 2.0 * deg_from_rad(std::sqrt(covariance(2, 2)));
  for (const SeenFixtureMark& mark : seen) {
    const bool kept = std::any_of(used.begin(), used.end(), [&](const auto& m) { return m.index == mark.index; });
    if (kept) {
      result.used.push_back(mark);
    } else {
      result.notes.push_back("The " + mark_name(fixture, mark.index) +
                             ", does not lie to the others as the fixture file says; it was left out.");
    }
  }
  return result;
}

Outcome<MarkedPlacement> place_fixture_by_marks(const cv::Mat1b& luma, const Camera& camera, const Fixture& fixture,
                                                double lens_error_px) {
  std::vector<std::string> why_not;
  Outcome<MarkedPlacement> placed = Failure{"it carries no marks"};
  for (const double search_mm : kSearches_mm) {
    const auto seen = look_for(luma, camera, fixture, std::nullopt, search_mm, why_not);
    placed = fit_fixture_to_marks(camera, fixture, seen, lens_error_px);
    if (placed) break;
  }
  if (!placed) return placed;
  if (placed->used.size() < fixture.marks_mm.size()) {
    const auto seen = look_for(luma, camera, fixture, placed->placement, kSearchOnceKnown_mm, why_not);
    const auto again = fit_fixture_to_marks(camera, fixture, seen, lens_error_px);
    if (again && again->used.size() >= placed->used.size()) placed = again;
    for (std::size_t i = 0; i < why_not.size(); ++i) {
      if (why_not[i].empty()) continue;
      placed->notes.push_back("The " + mark_name(fixture, i) + ", was not found where the others put it (" +
                              why_not[i] + ").");
    }
  }
  return placed;
}

}  // namespace jigtrue
