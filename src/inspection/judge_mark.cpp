#include "inspection/judge_mark.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>

namespace jigtrue {
namespace {

// None in 500 bare blanks with room to spare; a blank that scores as bare ones do once in a hundred is told bare.
constexpr double kSurelyBurned = 1e-4;
constexpr double kLikelyBare = 0.01;

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

// A relief, a print or another drawing answers to many a pattern, and leaves as much for the same one mirrored once the
// match is taken off; a mark leaves next to nothing. Nor does any burn take more light than there is. Search and fit
// find a mark in one place, and the ink's middle is darker where the whole is.
bool stands_out(const FoundMark& match, double pitch_mm) {
  constexpr double kLeavesAtMost = 0.6;  // of the match's score
  const double darkest = 1.0 + kCoverageFactor95 * match.amplitude_sigma;
  const double apart_mm = (match.uv_mm - match.peak.uv_mm).norm();
  return match.unexplained < kLeavesAtMost * std::abs(match.peak.score) && match.contrast < 1.1 * darkest &&
         apart_mm < std::max(0.3, 2.0 * pitch_mm) && match.contrast * match.peak.score < 0.0;
}

bool is_beyond_chance(const FoundMark& match, const std::vector<double>& nulls) {
  const double score = std::abs(match.peak.score);
  return chance_of(score, nulls) < kSurelyBurned && score > largest(match.null_scores);
}

// Another drawing than the slot's own, by the same proof as that.
std::optional<FoundMark> burned_there(const InkRaster& ink, const MarkTask& task, const std::vector<double>& nulls) {
  auto match = match_mark(task.unrolled, ink, task.search);
  if (match && !(is_beyond_chance(*match, nulls) && stands_out(*match, task.unrolled.pitch_mm))) match.reset();
  return match;
}

InkRaster raster_for(const std::vector<Pass>& passes, const MarkTask& task) {
  return ink_raster(passes, task.unrolled.pitch_mm / kInkPerPitch);
}

// What a proof's tape covers looks like no blank, and is one.
bool blank_is_there(const MarkTask& task) { return task.proof || task.blank->state != SlotState::empty; }

// Pieces of the drawing that are not there, or far paler than the others.
std::vector<std::size_t> missing_pieces(const FoundMark& match) {
  constexpr double kSeen = 0.1;  // twice what an eye finds on wood; grain alone does the rest
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
    if (size < 0.25 * strong && strong - size > std::max(kSeen, 4.0 * piece.sigma)) missing.push_back(i);
  }
  return missing;
}

void judge_presence(const MarkTask& task, const std::vector<double>& nulls, InspectedSlot& out) {
  if (!out.is_due) {
    out.state = MarkState::unmarked;
    out.reasons.emplace_back("nothing was to be burned there");
    return;
  }
  const bool is_there = blank_is_there(task);
  if (!task.match) {
    out.state = is_there ? MarkState::doubtful : MarkState::unmarked;
    out.reasons.emplace_back(is_there ? "too little of the place is seen to tell its mark" : "no blank lies there");
    return;
  }
  const FoundMark& match = *task.match;
  const double score = std::abs(match.peak.score);
  out.score = score;
  out.chance = chance_of(score, nulls);
  out.least_contrast = sure_score(nulls) * match.amplitude_sigma;
  // what a mark as dark as the best place here would be; fainter ones no eye finds
  constexpr double kFaintest = 0.05;
  constexpr double kHidden = 0.2;
  const double darkest = score * match.amplitude_sigma;
  const bool beyond_own = score > largest(match.null_scores);
  const bool is_burned = is_beyond_chance(match, nulls);
  if (is_burned && stands_out(match, task.unrolled.pitch_mm)) {
    out.state = MarkState::marked;
  } else if (!is_there) {
    out.state = MarkState::unmarked;
    out.reasons.emplace_back("no blank lies there");
  } else if (is_burned) {
    out.state = MarkState::doubtful;
    out.reasons.emplace_back("something is on it that is not this drawing: a relief, a print or another mark");
    out.remedy = "look whether this is the load that was laid out";
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
bool is_reversed(const MarkTask& task, const std::vector<double>& nulls) {
  const double reversed = std::abs(task.match->reversed.score);
  if (reversed < std::max(sure_score(nulls), 1.5 * std::abs(task.match->peak.score))) return false;
  return burned_there(turned_round(raster_for(*task.passes, task)), task, nulls).has_value();
}

// Whose drawing is on this blank, if it is another slot's.
std::optional<std::string> foreign_drawing(const MarkTask& task, const LaidLoad& laid,
                                           const std::vector<double>& nulls) {
  std::optional<std::string> whose;
  double best = std::abs(task.match->peak.score);
  for (const auto& [id, passes] : laid.art.own) {
    if (passes == nullptr || passes == task.passes) continue;
    const auto other = burned_there(raster_for(*passes, task), task, nulls);
    if (!other || std::abs(other->peak.score) <= best) continue;
    best = std::abs(other->peak.score);
    whose = id;
  }
  return whose;
}

// What lies there is not what was placed there.
void judge_drawing(const MarkTask& task, const LaidLoad& laid, const std::vector<double>& nulls, InspectedSlot& out) {
  if (!task.match || !blank_is_there(task)) return;
  if (is_reversed(task, nulls)) {
    out.state = MarkState::doubtful;
    out.reasons.assign(1, "the drawing is there, turned end for end");
    out.spoiled = true;
    out.remedy = "see which way round blank and fixture lay when it was burned";
    return;
  }
  if (out.state == MarkState::marked || laid.art.own.size() < 2) return;
  if (const auto whose = foreign_drawing(task, laid, nulls)) {
    out.state = MarkState::doubtful;
    out.reasons.assign(1, "it carries the drawing of slot " + *whose);
    out.spoiled = true;
    out.remedy = "see whether blanks were exchanged, or the list of names was";
  }
}

// Where a second burn lies from the darker one.
std::optional<Vector2d> shown_twice(const FoundMark& match, double sure) {
  // what one mark leaves over comes to a tenth of it, to a third where it is as faint as the grain; a second one that
  // overlaps it shows at six tenths or more
  constexpr double kSecondShare = 0.4;
  if (match.near.share > kSecondShare && match.near.score > sure) return match.near.apart_mm;
  if (match.second && std::abs(match.second->score) > std::max(kSecondShare * std::abs(match.peak.score), sure) &&
      match.second->score * match.peak.score > 0.0)
    return Vector2d(match.second->uv_mm - match.uv_mm);
  return std::nullopt;
}

// A mark that is there, but not as it should be.
void judge_shape(const MarkTask& task, double sure, InspectedSlot& out) {
  if (out.state != MarkState::marked) return;
  const FoundMark& match = *task.match;
  if (!blank_is_there(task)) {
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
    out.spoiled = true;
    out.remedy = "look whether the job was broken off, or something lay over the blank";
  }
  if (const auto apart = shown_twice(match, sure)) {
    out.state = MarkState::doubtful;
    out.reasons.push_back("the drawing shows twice, " + signed_text(apart->x(), 1) + " mm along and " +
                          signed_text(apart->y(), 1) + " mm across from the darker one");
    out.spoiled = true;
    out.remedy = "look whether it was burned twice and moved in between";
  }
  if (task.measured || task.proof) return;
  // where no outline of a blank is sure, anything with edges may lie there
  out.state = MarkState::doubtful;
  out.reasons.push_back("something like the mark is there, but the blank could not be measured anew (" +
                        std::string(to_string(task.blank->state)) + ")");
  if (out.remedy.empty()) out.remedy = "look at it, or light the load more evenly and take the photo again";
}

}  // namespace

std::vector<double> all_null_scores(const std::vector<MarkTask>& tasks) {
  std::vector<double> all;
  for (const MarkTask& task : tasks)
    if (task.match) all.insert(all.end(), task.match->null_scores.begin(), task.match->null_scores.end());
  return all;
}

void judge_mark(const MarkTask& task, const LaidLoad& laid, const std::vector<double>& nulls, InspectedSlot& out) {
  judge_presence(task, nulls, out);
  judge_shape(task, sure_score(nulls), out);
  judge_drawing(task, laid, nulls, out);
}

}  // namespace jigtrue
