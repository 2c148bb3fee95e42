#include "jigtrue/calibration/locate_by_marks.hpp"

#include "jigtrue/calibration/mark_settings.hpp"
#include "jigtrue/calibration/match_marks.hpp"
#include "jigtrue/calibration/witness.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestToLocate = 4;    // eight numbers for six unknowns
constexpr double kSearchOncePlaced_mm = 1.5;  // nearer than any two marks lie to each other
// Fields that are looked for first, and, when that fails, those of a distant camera, px.
constexpr double kUsualField_px = 24.0;
constexpr double kSmallField_px = 12.0;

struct Sighting {
  MarkMatch match;
  std::vector<SightedMark> marks;
};

Outcome<Sighting> sight(const cv::Mat1b& luma, const LensRecord& lens, const std::vector<Vector3d>& marks_mm,
                        const LocateOptions& options) {
  Sighting sighting;
  Outcome<MarkMatch> match = Failure{"not looked for"};
  for (const double field_px : {kUsualField_px, kSmallField_px}) {
    sighting.marks = find_all_marks(luma, field_px);
    match = match_marks(lens.lens, marks_mm, options.field_mm, sighting.marks, options.top);
    if (match) break;
  }
  if (!match) return match.failure();
  sighting.match = *match;
  return sighting;
}

std::vector<LocatedMark> measured_marks(const cv::Mat1b& luma, const LensRecord& lens,
                                        const std::vector<Vector3d>& marks_mm, const Sighting& sighting,
                                        double field_mm) {
  std::vector<LocatedMark> marks;
  Camera camera;
  camera.lens = lens.lens;
  camera.camera_from_bed = sighting.match.camera_from_plan;
  for (std::size_t i = 0; i < marks_mm.size(); ++i) {
    const auto pair = std::find_if(sighting.match.pairs.begin(), sighting.match.pairs.end(),
                                   [&](const auto& p) { return p.first == i; });
    if (pair != sighting.match.pairs.end()) {
      const SightedMark& mark = sighting.marks[pair->second];
      marks.push_back({i, mark.px, mark.sigma_px});
      continue;
    }
    // the pose now says where the others must be
    const auto prediction = predict_mark(camera, marks_mm[i], kSearchOncePlaced_mm, field_mm);
    if (!prediction) continue;
    if (const auto mark = find_mark(luma, *prediction)) marks.push_back({i, mark->px, mark->sigma_px});
  }
  return marks;
}

std::vector<PlacedMark> placed(const std::vector<Vector3d>& marks_mm, const std::vector<LocatedMark>& marks) {
  std::vector<PlacedMark> list;
  list.reserve(marks.size());
  for (const LocatedMark& mark : marks) list.push_back({marks_mm[mark.index], mark.px, mark.sigma_px});
  return list;
}

double mm_per_px(const PoseFit& pose, std::size_t i) {
  return (pose.camera.camera_from_bed * pose.points_mm[i]).norm() / pose.camera.lens.focal_px().mean();
}

constexpr double kPoseUnknowns = 6.0;                            // turn and place
constexpr double kPoseAndMachineUnknowns = kPoseUnknowns + 2.0;  // its scale and squareness as well
double pooled_sigma_mm(const PoseFit& pose, double prior_mm, double unknowns) {
  double squares = 0.0;
  for (std::size_t i = 0; i < pose.residuals_px.size(); ++i)
    squares += std::pow(pose.residuals_px[i].norm() * mm_per_px(pose, i), 2);
  const double freedom = 2.0 * static_cast<double>(pose.residuals_px.size()) - unknowns;
  return std::sqrt((kPriorWeight * prior_mm * prior_mm + squares) / (kPriorWeight + freedom));
}

double largest_residual_mm(const PoseFit& pose) {
  double largest = 0.0;
  for (std::size_t i = 0; i < pose.residuals_px.size(); ++i)
    largest = std::max(largest, pose.residuals_px[i].norm() * mm_per_px(pose, i));
  return largest;
}

// The pose of all marks; while one contradicts and enough others remain, of those that fit best without it.
struct Fit {
  PoseFit pose;
  std::vector<LocatedMark> used;
  std::vector<std::size_t> left_out;
};
using Fitter = std::function<Outcome<PoseFit>(const std::vector<PlacedMark>& marks, double place_sigma_mm)>;
Outcome<Fit> fit_agreeing(const Fitter& fitter, const std::vector<Vector3d>& marks_mm, std::vector<LocatedMark> marks,
                          double prior_mm) {
  Fit fit;
  while (true) {
    auto pose = fitter(placed(marks_mm, marks), prior_mm);
    if (pose && largest_residual_mm(*pose) < kContradicts_mm) {
      fit.pose = std::move(*pose);
      fit.used = std::move(marks);
      return fit;
    }
    if (marks.size() <= kFewestToLocate + 1) {
      if (!pose) return pose.failure();
      return Failure{"the marks do not lie to each other as declared: one is " +
                     std::to_string(std::lround(100.0 * largest_residual_mm(*pose)) / 100.0).substr(0, 4) + " mm off"};
    }
    std::optional<std::size_t> worst;
    double least = 0.0;
    for (std::size_t i = 0; i < marks.size(); ++i) {
      std::vector<LocatedMark> others = marks;
      others.erase(others.begin() + static_cast<std::ptrdiff_t>(i));
      // a wide stated uncertainty, so that none of these trials is refused for what the next round will mend
      const auto trial = fitter(placed(marks_mm, others), 1.0);
      if (!trial || (worst && trial->rms_px >= least)) continue;
      worst = i;
      least = trial->rms_px;
    }
    if (!worst) return Failure{pose ? "the marks do not lie to each other as declared" : pose.reason()};
    fit.left_out.push_back(marks[*worst].index);
    marks.erase(marks.begin() + static_cast<std::ptrdiff_t>(*worst));
  }
}

// The same with the machine's figures fitted along. Nothing with fewer than five marks that agree.
struct BurnedPhoto {
  Fit fit;
  BurnedFit own;
};
std::optional<BurnedPhoto> fit_burned(const LensRecord& lens, const std::vector<Vector3d>& marks_mm,
                                      const std::vector<LocatedMark>& marks, const Rigid& start, double prior_mm) {
  const Fitter fitter = [&](const std::vector<PlacedMark>& list, double sigma_mm) -> Outcome<PoseFit> {
    auto fit = fit_burned_marks(lens, list, start, sigma_mm);
    if (!fit) return fit.failure();
    return std::move(fit->pose);
  };
  Outcome<Fit> agreed = fit_agreeing(fitter, marks_mm, marks, prior_mm);
  if (!agreed) return std::nullopt;
  const double sigma_mm = pooled_sigma_mm(agreed->pose, prior_mm, kPoseAndMachineUnknowns);
  auto own = fit_burned_marks(lens, placed(marks_mm, agreed->used), start, sigma_mm);
  if (!own) return std::nullopt;
  agreed->pose = own->pose;
  return BurnedPhoto{std::move(*agreed), std::move(*own)};
}

// A few marks may fit another sheet's plan by chance; then most of the plan is missing from the picture.
std::string too_few_of(const std::vector<Vector3d>& marks_mm, const Fit& fit, const cv::Size& size, double field_mm) {
  const auto last = Vector2d(size.width - 1.0, size.height - 1.0);
  std::size_t inside = 0;
  for (const Vector3d& mark : marks_mm) {
    const auto prediction = predict_mark(fit.pose.camera, mark, 0.0, field_mm);
    if (!prediction) continue;
    const double reach = 1.5 * field_mm * prediction->px_from_mm.norm();
    const auto& px = prediction->centre_px;
    if ((px.array() > reach).all() && (px.array() < last.array() - reach).all()) ++inside;
  }
  if (2 * fit.used.size() >= inside) return {};
  return "of the " + std::to_string(inside) + " declared marks that the picture should show only " +
         std::to_string(fit.used.size()) +
         " are where they are declared: they are for another sheet, fixture or bed, or most are covered";
}

Outcome<LocatedPhoto> fit_located(const LensRecord& lens, const std::vector<Vector3d>& marks_mm,
                                  const std::vector<LocatedMark>& marks, const Rigid& start, const cv::Size& size,
                                  const LocateOptions& options) {
  const Fitter alone = [&](const std::vector<PlacedMark>& list, double sigma_mm) {
    return fit_pose_to_marks(lens, list, size.width, size.height, {sigma_mm});
  };
  Outcome<Fit> fit = fit_agreeing(alone, marks_mm, marks, options.place_sigma_mm);
  const std::optional<BurnedPhoto> burned =
      options.burned ? fit_burned(lens, marks_mm, marks, start, options.place_sigma_mm) : std::nullopt;
  const bool machine_in_pose =
      burned && (!fit || burned->fit.used.size() > fit->used.size() || burned->own.significant());
  if (machine_in_pose) fit = burned->fit;
  if (!fit) return fit.failure();
  if (const std::string reason = too_few_of(marks_mm, *fit, size, options.field_mm); !reason.empty())
    return Failure{reason};
  LocatedPhoto result;
  if (burned) result.burned = burned->own;
  result.machine_in_pose = machine_in_pose;
  result.place_sigma_mm =
      pooled_sigma_mm(fit->pose, options.place_sigma_mm, machine_in_pose ? kPoseAndMachineUnknowns : kPoseUnknowns);
  result.pose = fit->pose;
  if (!machine_in_pose) {
    // weights are equal in effect, so only the stated uncertainty changes
    auto pose = alone(placed(marks_mm, fit->used), result.place_sigma_mm);
    if (pose) result.pose = std::move(*pose);
  }
  result.used = fit->used;
  result.left_out = fit->left_out;
  for (std::size_t i = 0; i < marks_mm.size(); ++i) {
    const auto seen = std::any_of(marks.begin(), marks.end(), [&](const LocatedMark& m) { return m.index == i; });
    if (!seen) result.not_seen.push_back(i);
  }
  return result;
}

}  // namespace

Outcome<LocatedPhoto> locate_by_marks(const cv::Mat1b& luma, const LensRecord& lens,
                                      const std::vector<Vector3d>& marks_mm, const LocateOptions& options) {
  const Outcome<Sighting> sighting = sight(luma, lens, marks_mm, options);
  if (!sighting) return sighting.failure();
  const std::vector<LocatedMark> marks = measured_marks(luma, lens, marks_mm, *sighting, options.field_mm);
  return fit_located(lens, marks_mm, marks, sighting->match.camera_from_plan, luma.size(), options);
}

Outcome<LocatedPhoto> locate_by_kept_marks(const LensRecord& lens, const std::vector<PlacedMark>& marks,
                                           const Rigid& start, const LocateOptions& options) {
  std::vector<Vector3d> marks_mm;
  std::vector<LocatedMark> found;
  for (const PlacedMark& mark : marks) {
    found.push_back({marks_mm.size(), mark.px, mark.sigma_px});
    marks_mm.push_back(mark.bed_mm);
  }
  return fit_located(lens, marks_mm, found, start, {lens.lens.width_px, lens.lens.height_px}, options);
}

}  // namespace jigtrue
