#include "jigtrue/inspection/inspect_load.hpp"

#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/image/shrink_photo.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"

#include <algorithm>
#include <optional>
#include <utility>

#include "inspection/judge_mark.hpp"
#include "inspection/mark_numbers.hpp"
#include "inspection/mark_task.hpp"

namespace jigtrue {
namespace {

Camera camera_for(const Camera& camera, int factor) { return factor > 1 ? shrunk(camera, factor) : camera; }

// Finer than this, pixels only cost time: ink's edges are known to a fiftieth of them.
int shrink_for(const Camera& camera, const std::vector<MarkTask>& tasks) {
  constexpr double kEnough_px = 16.0;  // a millimetre
  double finest = 0.0;
  for (const MarkTask& task : tasks)
    if (const auto scale = px_per_mm_at(camera, task.surface, task.frame)) finest = std::max(finest, scale->minCoeff());
  return std::max(1, static_cast<int>(finest / kEnough_px));
}

void note_whole(InspectionResult& result) {
  int due = 0;
  int found = 0;
  int blanks = 0;
  int bare = 0;
  for (std::size_t i = 0; i < result.slots.size(); ++i) {
    if (!result.slots[i].is_due) continue;
    const SlotState state = result.blanks.slots[i].state;
    ++due;
    found += state == SlotState::found ? 1 : 0;
    if (state == SlotState::empty) continue;
    ++blanks;
    bare += result.slots[i].state == MarkState::unmarked ? 1 : 0;
  }
  if (due > 0 && found == 0)
    result.notes.emplace_back(
        "No blank is found in any slot: this looks like a photo of another fixture, or of this one without its load, "
        "unless light or focus hide them.");
  else if (blanks > 0 && bare == blanks)
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
  result.proof = laid.proof;
  std::vector<MarkTask> tasks;
  for (std::size_t i = 0; i < laid.fixture.slots.size(); ++i)
    tasks.push_back(task_for(laid.fixture.slots[i], blanks.slots[i], laid));
  const int factor = shrink_for(camera, tasks);
  const Photo coarse = shrunk(photo, factor);
  const Camera coarse_camera = camera_for(camera, factor);
  in_parallel(tasks.size(), options.threads,
              [&](std::size_t i, std::size_t) { match_task(coarse, coarse_camera, std::nullopt, tasks[i]); });
  if (const auto blur = common_blur(tasks))
    in_parallel(tasks.size(), options.threads, [&](std::size_t i, std::size_t) {
      if (takes_blur(tasks[i], *blur)) match_task(coarse, coarse_camera, blur, tasks[i]);
    });
  const std::vector<double> nulls = all_null_scores(tasks);
  const MatrixXd causes = causes_of(coarse_camera);
  std::vector<BeamWitness> witnesses;
  for (const MarkTask& task : tasks) {
    InspectedSlot slot;
    slot.id = task.slot->id;
    slot.is_due = task.passes != nullptr;
    slot.was_placed = task.placed != nullptr;
    judge_mark(task, laid, nulls, slot);
    if (slot.state == MarkState::marked) {
      const MarkNumbers numbers(coarse_camera, causes, task, {options.lens_error_px / factor, options.threads});
      numbers.fill(slot);
      if (const auto witness = numbers.witness()) witnesses.push_back(*witness);
    }
    slot.close_up = {task.unrolled.light, task.unrolled.seen, task.unrolled.pitch_mm, task.unrolled.low_mm};
    result.slots.push_back(std::move(slot));
  }
  // of one mark alone the shift is told where it lies; elsewhere its turn would count in it
  result.beam =
      read_beam(witnesses, witnesses.size() == 1 ? witnesses.front().placed_mm : common_centre_mm(laid.fixture));
  if (!laid.proof) note_whole(result);
  return result;
}

}  // namespace jigtrue
