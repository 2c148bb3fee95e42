#include "jigtrue/inspection/inspect_load.hpp"

#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/image/shrink_photo.hpp"
#include "jigtrue/inspection/beam_reading.hpp"
#include "jigtrue/inspection/match_mark.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"

#include <algorithm>
#include <cmath>
#include <memory>

#include <Eigen/Dense>

namespace jigtrue {
namespace {

constexpr double kCoverageFactor = 1.96;
// None in 500 bare blanks with room to spare; a blank that scores as bare ones do once in a hundred is told bare.
constexpr double kSurelyBurned = 1e-4;
constexpr double kLikelyBare = 0.01;

// Blank and photo as a mark is looked for on them.
struct MarkTask {
  const Slot* slot = nullptr;
  const SlotResult* blank = nullptr;
  const LaidDesign* placed = nullptr;
  std::shared_ptr<const std::vector<Pass>> passes;
  BurnedSurface surface;
  PlanFrame frame;        // origin: where the design belongs
  bool measured = false;  // the blank
  double girth_sigma_mm = 0.0;
  Unrolled unrolled;
  std::optional<MarkMatch> match;
};

// The girth that the outline's fit rests on: the one seen, held by the declared one's tolerance.
void take_girth(const Slot& slot, const SlotNumbers& numbers, MarkTask& task) {
  const auto declared = largest_diameter_mm(slot.blank.shape);
  const double prior = slot.blank.diameter_tolerance_mm / std::sqrt(3.0);
  task.girth_sigma_mm = prior;
  if (!declared || is_flat(slot.blank.shape) || !numbers.diameter_mm) return;
  const double own = numbers.uncertainty.diameter_mm.value_or(1.0) / kCoverageFactor;
  const double share = prior * prior / (prior * prior + own * own);
  task.surface.place.girth_mm = share * (*numbers.diameter_mm - *declared);
  task.girth_sigma_mm = std::sqrt(share) * own;
}

MarkTask task_for(const Slot& slot, const SlotResult& blank, const LaidLoad& laid) {
  MarkTask task;
  task.slot = &slot;
  task.blank = &blank;
  for (const LaidDesign& placed : laid.placed)
    if (placed.slot_id == slot.id) task.placed = &placed;
  task.passes = laid.art.of(slot.id);
  task.surface.blank = slot.blank;
  task.surface.seat = slot.seat;
  if (laid.machine) task.surface.head_mm = laid.machine->scanning_head_mm;
  const double along_mm = slot.design ? slot.design->along_mm : 0.0;
  task.measured = blank.state == SlotState::found && blank.numbers.has_value();
  if (task.measured) {
    task.frame = {blank.numbers->centre_mm, rad_from_deg(blank.numbers->axis_deg)};
  } else if (task.placed != nullptr) {
    task.frame = {task.placed->centre_mm, rad_from_deg(task.placed->axis_deg)};
  } else {
    task.frame = {blank.nominal_centre_mm, rad_from_deg(blank.nominal_axis_deg)};
  }
  task.surface.place.heading_rad = task.frame.heading_rad;
  task.surface.place.centre_mm = task.frame.bed({-along_mm, 0.0});
  if (task.measured) take_girth(slot, *blank.numbers, task);
  constexpr double kUnsure_mm = 1.2;  // how far a blank that was not measured may lie beside where it is taken to be
  if (!task.measured) task.surface.margin_mm = kUnsure_mm;
  task.surface.focus_mm = design_height_mm(slot.blank, slot.seat, task.surface.place, along_mm);
  return task;
}

void match_task(const Photo& photo, const Camera& camera, MarkTask& task) {
  if (task.passes == nullptr) return;
  const auto scale = px_per_mm_at(camera, task.surface, task.frame);
  if (!scale) return;
  const double pitch = std::clamp(0.7 / scale->minCoeff(), 0.05, 0.35);
  const InkRaster ink = ink_raster(*task.passes, pitch / 3.0);
  MarkSearch search;
  if (task.placed != nullptr) {
    const Vector2d placed = task.frame.uv(task.placed->centre_mm);
    // a blank that was moved since has taken its mark along: it then lies where the blank is, not where it was put
    if (placed.norm() < 15.0) {
      search.expected_mm = placed / 2.0;
      search.reach_mm += placed.cwiseAbs() / 2.0;
    }
  }
  const Vector2d half = ink.ink.low.cwiseAbs().cwiseMax(ink.ink.high.cwiseAbs());
  constexpr double kBeside_mm = 30.0;
  InkBox box;
  box.hold(search.expected_mm - half - search.reach_mm - Vector2d(kBeside_mm, kBeside_mm));
  box.hold(search.expected_mm + half + search.reach_mm + Vector2d(kBeside_mm, kBeside_mm));
  // no farther than the blank reaches
  const double along_mm = task.slot->design ? task.slot->design->along_mm : 0.0;
  const double length = length_mm(task.slot->blank.shape) / 2.0 + 1.0;
  const double girth = largest_girth_mm(task.slot->blank.shape) / 2.0 + 1.0;
  box.low = box.low.cwiseMax(Vector2d(-length - along_mm, -girth));
  box.high = box.high.cwiseMin(Vector2d(length - along_mm, girth));
  if (box.empty()) return;
  task.unrolled = unroll(photo, camera, task.surface, task.frame, box, pitch);
  task.match = match_mark(task.unrolled, ink, search);
}

// How a point of a surface, seen at its pixel, moves on the bed with the camera's parameters; and with its height.
struct SightAnswer {
  MatrixXd by_camera;  // 2 x (n + 6), mm
  Vector2d by_height = Vector2d::Zero();
};
std::optional<SightAnswer> answer_of(const Camera& camera, const Vector3d& point) {
  const auto seen = project_bed_point_with_jacobian(camera, point);
  if (!seen) return std::nullopt;
  SightAnswer out;
  const Matrix2d plane = seen->by_bed_point.leftCols<2>();
  out.by_camera = -plane.inverse() * seen->by_camera;
  const Vector3d sight = point - camera.centre_mm();
  out.by_height = sight.head<2>() / sight.z();
  return out;
}

// Square root of the camera's covariance: its columns are independent causes of one standard deviation each.
MatrixXd causes_of(const Camera& camera) {
  if (camera.covariance.size() == 0) return {};
  const Eigen::SelfAdjointEigenSolver<MatrixXd> solver(camera.covariance);
  return solver.eigenvectors() * solver.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
}

// What the blank's place is uncertain by apart from what its mark shares: lens, pose and seat height. Of a lens's
// misfit, and of what a wrong lens does to directions, the mark shares little: it is shorter than the outline.
double blanks_own(const SlotNumbers& numbers, double BudgetShare::*what) {
  double square = 0.0;
  for (const BudgetShare& share : numbers.budget) {
    const bool turns = what == &BudgetShare::rotation_deg;
    const bool is_shared =
        share.name == cause::kPose || share.name == cause::kSeatHeight || (share.name == cause::kLens && !turns);
    if (!is_shared) square += (share.*what) * (share.*what);
  }
  return std::sqrt(square);
}

// All numbers of a mark that was found, from its match.
class MarkNumbers {
 public:
  MarkNumbers(const Camera& camera, const MatrixXd& causes, const MarkTask& task, const InspectOptions& options)
      : task_(task), match_(*task.match) {
    mark_mm_ = task.frame.bed(match_.uv_mm);
    heading_ = task.frame.heading_rad + match_.turn_rad;
    const auto met = task.surface.met_at(mark_mm_);
    const Vector3d on_surface = met.value_or(Vector3d(mark_mm_.x(), mark_mm_.y(), task.surface.focus_mm));
    const auto mark = answer_of(camera, on_surface);
    const double height_sigma = task.slot->seat.height_tolerance_mm / std::sqrt(3.0);
    const double crown_sigma = is_flat(task.slot->blank.shape) ? 0.0 : 0.5 * task.girth_sigma_mm;
    const Eigen::Index count = causes.cols() + 3;
    shared_ = MatrixXd::Zero(2, count);
    relative_ = MatrixXd::Zero(2, count);
    if (!mark) return;
    Vector3d axis_point(task.frame.origin_mm.x(), task.frame.origin_mm.y(), on_surface.z());
    if (!is_flat(task.slot->blank.shape))
      axis_point.z() -= 0.5 * largest_diameter_mm(task.slot->blank.shape).value_or(0.0);
    const auto blank = answer_of(camera, axis_point);
    if (causes.cols() > 0) shared_.leftCols(causes.cols()) = mark->by_camera * causes;
    shared_.col(count - 3) = mark->by_height * height_sigma;
    const double px_per_mm = task.unrolled.px_per_mm.mean();
    const double model = options.lens_error_px / std::sqrt(2.0) / std::max(px_per_mm, 1e-6);
    shared_(0, count - 2) = model;
    shared_(1, count - 1) = model;
    crown_ = mark->by_height * crown_sigma;
    if (!blank) return;
    if (causes.cols() > 0) relative_.leftCols(causes.cols()) = (mark->by_camera - blank->by_camera) * causes;
    relative_.col(count - 3) = (mark->by_height - blank->by_height) * height_sigma;
  }

  void fill(InspectedSlot& out) const {
    out.mark_mm = mark_mm_;
    out.mark_deg = deg_from_rad(heading_);
    out.contrast = match_.contrast;
    out.contrast_u = kCoverageFactor * match_.contrast_sigma;
    out.halo = match_.halo;
    out.evenness = evenness();
    out.photo_from_mark = photo_from_mark();
    if (task_.measured) against_blank(out);
    if (task_.placed != nullptr) against_placed(out);
  }

  [[nodiscard]] std::optional<BeamWitness> witness() const {
    if (task_.placed == nullptr) return std::nullopt;
    BeamWitness out;
    out.placed_mm = task_.placed->centre_mm;
    out.off_mm = mark_mm_ - out.placed_mm;
    out.own_mm2 = own_on_bed();
    out.turn_rad = turn_from_placed();
    out.turn_sigma_rad = turn_sigma();
    out.shared_mm = shared_;
    return out;
  }

 private:
  const MarkTask& task_;
  const MarkMatch& match_;
  Vector2d mark_mm_ = Vector2d::Zero();
  double heading_ = 0.0;
  MatrixXd shared_;    // of the mark's place on the bed, by cause
  MatrixXd relative_;  // of the mark against its blank
  Vector2d crown_ = Vector2d::Zero();

  [[nodiscard]] Matrix2d frame_rotation() const {
    const double c = std::cos(task_.frame.heading_rad);
    const double s = std::sin(task_.frame.heading_rad);
    Matrix2d r;
    r << c, -s, s, c;
    return r;
  }
  [[nodiscard]] Matrix2d own_on_bed() const {
    const Matrix2d r = frame_rotation();
    const Matrix2d match = match_.covariance.topLeftCorner<2, 2>();
    return Matrix2d(r * match * r.transpose() + crown_ * crown_.transpose());
  }
  [[nodiscard]] double turn_sigma() const { return std::sqrt(std::max(match_.covariance(2, 2), 1e-12)); }
  [[nodiscard]] double turn_from_placed() const {
    return std::remainder(heading_ - rad_from_deg(task_.placed->axis_deg), 2.0 * kPi);
  }

  [[nodiscard]] std::optional<Matrix3d> photo_from_mark() const {
    const SlotResult& blank = *task_.blank;
    if (!blank.sketch.photo_from_design) return std::nullopt;
    const PlanFrame design = blank.numbers ? PlanFrame{blank.numbers->centre_mm, rad_from_deg(blank.numbers->axis_deg)}
                                           : PlanFrame{blank.nominal_centre_mm, rad_from_deg(blank.nominal_axis_deg)};
    const Vector2d at = design.uv(mark_mm_);
    const double turn = heading_ - design.heading_rad;
    Matrix3d lay;
    lay << std::cos(turn), -std::sin(turn), at.x(), std::sin(turn), std::cos(turn), at.y(), 0.0, 0.0, 1.0;
    return Matrix3d(*blank.sketch.photo_from_design * lay);
  }

  // Less what the pieces' own noise makes of it.
  [[nodiscard]] std::optional<double> evenness() const {
    double mean = 0.0;
    double square = 0.0;
    double noise = 0.0;
    const auto n = static_cast<double>(match_.pieces.size());
    if (match_.pieces.size() < 3) return std::nullopt;
    for (const MarkPiece& piece : match_.pieces) mean += piece.contrast / n;
    for (const MarkPiece& piece : match_.pieces) {
      square += (piece.contrast - mean) * (piece.contrast - mean) / (n - 1.0);
      noise += piece.sigma * piece.sigma / n;
    }
    if (std::abs(mean) < 1e-6) return std::nullopt;
    return std::clamp(1.0 - std::sqrt(std::max(0.0, square - noise)) / std::abs(mean), 0.0, 1.0);
  }

  void against_blank(InspectedSlot& out) const {
    const SlotNumbers& numbers = *task_.blank->numbers;
    const Vector2d off = task_.frame.uv(mark_mm_);
    MarkOffset from;
    if (numbers.along_mm) from.along_mm = off.x();
    from.across_mm = off.y();
    out.from_blank_mm = from;
    out.rotation_deg = deg_from_rad(match_.turn_rad);
    const Matrix2d r = frame_rotation();
    const MatrixXd in_frame = r.transpose() * relative_;
    const Vector2d crown = r.transpose() * crown_;
    MarkUncertainty u;
    u.along_mm =
        kCoverageFactor * std::sqrt(match_.covariance(0, 0) + in_frame.row(0).squaredNorm() +
                                    std::pow(blanks_own(numbers, &BudgetShare::along_mm), 2) + crown.x() * crown.x());
    u.across_mm =
        kCoverageFactor * std::sqrt(match_.covariance(1, 1) + in_frame.row(1).squaredNorm() +
                                    std::pow(blanks_own(numbers, &BudgetShare::across_mm), 2) + crown.y() * crown.y());
    u.rotation_deg =
        kCoverageFactor * std::hypot(deg_from_rad(turn_sigma()), blanks_own(numbers, &BudgetShare::rotation_deg));
    out.uncertainty = u;
  }

  void against_placed(InspectedSlot& out) const {
    const PlanFrame placed{task_.placed->centre_mm, rad_from_deg(task_.placed->axis_deg)};
    const Vector2d off = placed.uv(mark_mm_);
    out.from_placed_mm = MarkOffset{off.x(), off.y()};
    const Matrix2d covariance = own_on_bed() + Matrix2d(shared_ * shared_.transpose());
    const double c = std::cos(placed.heading_rad);
    const double s = std::sin(placed.heading_rad);
    const Vector2d along(c, s);
    const Vector2d across(-s, c);
    MarkUncertainty u;
    u.along_mm = kCoverageFactor * std::sqrt(along.dot(covariance * along));
    u.across_mm = kCoverageFactor * std::sqrt(across.dot(covariance * across));
    u.rotation_deg = kCoverageFactor * deg_from_rad(turn_sigma());
    out.placed_uncertainty = u;
    if (out.rotation_deg) return;
    out.rotation_deg = deg_from_rad(turn_from_placed());
    out.uncertainty = u;
  }
};

// Scores of windows without a mark: all blanks' together, each in its own texture's unit.
std::vector<double> all_null_scores(const std::vector<MarkTask>& tasks) {
  std::vector<double> all;
  for (const MarkTask& task : tasks)
    if (task.match) all.insert(all.end(), task.match->null_scores.begin(), task.match->null_scores.end());
  return all;
}

double largest(const std::vector<double>& values) {
  return values.empty() ? 0.0 : *std::max_element(values.begin(), values.end());
}

// Least score that counts as burned for sure.
double sure_score(const std::vector<double>& nulls) {
  double low = 0.0;
  double high = 1e4;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2.0;
    (chance_of(middle, nulls) > kSurelyBurned ? low : high) = middle;
  }
  return high;
}

bool blank_is_there(const SlotResult& blank) { return blank.state != SlotState::empty; }

// Pieces of the drawing that are not there, or far paler than the others.
std::vector<std::size_t> missing_pieces(const MarkMatch& match) {
  std::vector<double> sizes;
  for (const MarkPiece& piece : match.pieces) sizes.push_back(std::abs(piece.contrast));
  std::vector<std::size_t> missing;
  if (sizes.size() < 3) return missing;
  std::vector<double> sorted = sizes;
  std::sort(sorted.begin(), sorted.end());
  const double strong = sorted[sorted.size() * 3 / 4];
  for (std::size_t i = 0; i < match.pieces.size(); ++i) {
    const MarkPiece& piece = match.pieces[i];
    const bool as_the_mark = piece.contrast * match.contrast > 0.0;
    const double size = as_the_mark ? sizes[i] : 0.0;
    if (size < 0.25 * strong && strong - size > 4.0 * piece.sigma) missing.push_back(i);
  }
  return missing;
}

void judge_mark(const MarkTask& task, const std::vector<double>& nulls, InspectedSlot& out) {
  const SlotResult& blank = *task.blank;
  if (!task.match) {
    out.state = blank_is_there(blank) ? MarkState::doubtful : MarkState::unmarked;
    out.reasons.emplace_back(task.passes == nullptr  ? "nothing was to be burned there"
                             : blank_is_there(blank) ? "too little of the place is seen to tell its mark"
                                                     : "no blank lies there");
    return;
  }
  const MarkMatch& match = *task.match;
  const double score = std::abs(match.peak.score);
  out.score = score;
  out.chance = chance_of(score, nulls);
  out.least_contrast = sure_score(nulls) * match.contrast_sigma;
  const bool beyond_own = score > largest(match.null_scores);
  // what a mark as dark as the best place here would be; fainter ones no eye finds
  constexpr double kFaintest = 0.05;
  constexpr double kHidden = 0.2;
  const double darkest = score * match.contrast_sigma;
  if (*out.chance < kSurelyBurned && beyond_own) {
    out.state = MarkState::marked;
  } else if (!blank_is_there(blank)) {
    out.state = MarkState::unmarked;
    out.reasons.emplace_back("no blank lies there");
  } else if (*out.least_contrast > kHidden) {
    out.state = MarkState::doubtful;
    out.reasons.push_back("its texture would hide a mark of contrast " + fixed_text(*out.least_contrast, 2));
    out.remedy = "light it more evenly, or go nearer with the camera";
  } else if (*out.chance > kLikelyBare || !beyond_own || darkest < kFaintest) {
    out.state = MarkState::unmarked;
    out.reasons.push_back("no mark of contrast " + fixed_text(std::max({*out.least_contrast, darkest, 0.01}), 2) +
                          " or more is on it");
  } else {
    out.state = MarkState::doubtful;
    out.reasons.emplace_back("something like the mark is there, and too faint to be sure");
  }
}

// The drawing upside down: blank, or photo, or the whole fixture was turned round.
bool is_reversed(const MarkTask& task, double sure) {
  const double reversed = std::abs(task.match->reversed.score);
  return reversed > sure && reversed > 1.5 * std::abs(task.match->peak.score);
}

// Whose drawing is on this blank, if it is another slot's.
std::optional<std::string> foreign_drawing(const MarkTask& task, const LaidLoad& laid,
                                           const std::vector<double>& nulls) {
  std::optional<std::string> whose;
  double best = std::abs(task.match->peak.score);
  for (const auto& [id, passes] : laid.art.own) {
    if (passes == nullptr || passes == task.passes) continue;
    const auto other = match_mark(task.unrolled, ink_raster(*passes, task.unrolled.pitch_mm / 3.0), {});
    if (!other || std::abs(other->peak.score) <= best) continue;
    if (chance_of(std::abs(other->peak.score), nulls) > kSurelyBurned) continue;
    best = std::abs(other->peak.score);
    whose = id;
  }
  return whose;
}

// What lies there is not what was placed there.
void judge_drawing(const MarkTask& task, const LaidLoad& laid, const std::vector<double>& nulls, InspectedSlot& out) {
  if (!task.match || !blank_is_there(*task.blank)) return;
  if (is_reversed(task, sure_score(nulls))) {
    out.state = MarkState::doubtful;
    out.reasons.assign(1, "the drawing is there, turned end for end");
    out.remedy = "see which way round blank and fixture lay when it was burned";
    return;
  }
  if (out.state == MarkState::marked || laid.art.own.size() < 2) return;
  if (const auto whose = foreign_drawing(task, laid, nulls)) {
    out.state = MarkState::doubtful;
    out.reasons.assign(1, "it carries the drawing of slot " + *whose);
    out.remedy = "see whether blanks were exchanged, or the list of names was";
  }
}

// A mark that is there, but not as it should be.
void judge_shape(const MarkTask& task, double sure, InspectedSlot& out) {
  if (out.state != MarkState::marked) return;
  const MarkMatch& match = *task.match;
  if (task.blank->state == SlotState::empty) {
    out.state = MarkState::doubtful;
    out.reasons.emplace_back("a mark, and no blank: it may be burned into the fixture");
    out.remedy = "look at the slot's floor";
    return;
  }
  const auto missing = missing_pieces(match);
  if (!missing.empty()) {
    out.state = MarkState::doubtful;
    out.reasons.push_back(std::to_string(missing.size()) + " of " + std::to_string(match.pieces.size()) +
                          " parts of the drawing are missing, the first from " +
                          signed_text(match.pieces[missing.front()].from_mm, 1) + " mm along");
    out.remedy = "look whether the job was broken off, or something lay over the blank";
  }
  // what one mark leaves over comes to a fiftieth of it; where a second one overlaps it, the first fit takes most of
  // both
  constexpr double kSecondShare = 0.1;
  if (match.second && std::abs(match.second->score) > std::max(kSecondShare * std::abs(match.peak.score), sure) &&
      match.second->score * match.peak.score > 0.0) {
    const Vector2d apart = match.second->uv_mm - match.uv_mm;
    out.state = MarkState::doubtful;
    out.reasons.push_back("the drawing shows twice, " + signed_text(apart.x(), 1) + " mm along and " +
                          signed_text(apart.y(), 1) + " mm across from the darker one");
    out.remedy = "look whether it was burned twice and moved in between";
  }
  if (task.measured) return;
  out.reasons.push_back("the blank could not be measured anew (" + std::string(to_string(task.blank->state)) + ")");
}

Camera camera_for(const Camera& camera, int factor) { return factor > 1 ? shrunk(camera, factor) : camera; }

// Finer than this, pixels only cost time: ink's edges are known to a fiftieth of them.
int shrink_for(const Camera& camera, const std::vector<MarkTask>& tasks) {
  constexpr double kEnough_px = 16.0;
  double finest = 0.0;
  for (const MarkTask& task : tasks)
    if (const auto scale = px_per_mm_at(camera, task.surface, task.frame)) finest = std::max(finest, scale->minCoeff());
  return std::max(1, static_cast<int>(finest / kEnough_px));
}

void note_whole(InspectionResult& result) {
  int blanks = 0;
  int bare = 0;
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    if (result.blanks.slots[i].state == SlotState::empty) continue;
    ++blanks;
    bare += result.slots[i].state == MarkState::unmarked ? 1 : 0;
  }
  if (blanks > 0 && bare == blanks)
    result.notes.emplace_back(
        "No blank shows its mark: this looks like a photo from before the burn, or of another load.");
}

}  // namespace

InspectionResult inspect_load(const Photo& photo, const Camera& camera, const CheckResult& blanks, const LaidLoad& laid,
                              const InspectOptions& options) {
  InspectionResult result;
  result.blanks = blanks;
  result.art = laid.art;
  result.beam_applied = laid.beam_applied;
  result.machine_applied = laid.machine_applied;
  std::vector<MarkTask> tasks;
  for (std::size_t i = 0; i < laid.fixture.slots.size(); ++i)
    tasks.push_back(task_for(laid.fixture.slots[i], blanks.slots[i], laid));
  const int factor = shrink_for(camera, tasks);
  const Photo coarse = shrunk(photo, factor);
  const Camera coarse_camera = camera_for(camera, factor);
  in_parallel(tasks.size(), options.threads,
              [&](std::size_t i, std::size_t) { match_task(coarse, coarse_camera, tasks[i]); });
  const std::vector<double> nulls = all_null_scores(tasks);
  const MatrixXd causes = causes_of(coarse_camera);
  std::vector<BeamWitness> witnesses;
  for (const MarkTask& task : tasks) {
    InspectedSlot slot;
    slot.id = task.slot->id;
    judge_mark(task, nulls, slot);
    judge_shape(task, sure_score(nulls), slot);
    judge_drawing(task, laid, nulls, slot);
    if (slot.state == MarkState::marked) {
      const MarkNumbers numbers(coarse_camera, causes, task, {options.lens_error_px / factor, options.threads});
      numbers.fill(slot);
      if (const auto witness = numbers.witness()) witnesses.push_back(*witness);
    }
    slot.close_up = {task.unrolled.light, task.unrolled.seen, task.unrolled.pitch_mm, task.unrolled.low_mm};
    result.slots.push_back(std::move(slot));
  }
  result.beam = read_beam(witnesses, common_centre_mm(laid.fixture));
  note_whole(result);
  return result;
}

}  // namespace jigtrue
