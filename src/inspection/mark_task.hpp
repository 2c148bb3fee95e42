// A slot as its mark is looked for: the blank's surface, the plane of its design, and what was found there.
#pragma once
#include "jigtrue/inspection/inspect_load.hpp"
#include "jigtrue/inspection/match_mark.hpp"

#include <memory>
#include <optional>
#include <vector>

namespace jigtrue {

struct MarkTask {
  const Slot* slot = nullptr;
  const SlotResult* blank = nullptr;
  const LaidDesign* placed = nullptr;
  std::shared_ptr<const std::vector<Pass>> passes;
  BurnedSurface surface;
  PlanFrame frame;        // origin: where the design belongs
  bool measured = false;  // the blank
  double girth_sigma_mm = 0.0;
  double cover_sigma_mm = 0.0;  // of the tape that a proof is burned on
  bool proof = false;
  MarkSearch search;  // how the mark was looked for
  Unrolled unrolled;
  std::optional<FoundMark> match;
};

// Of a drawing's raster to one of the unrolled picture's.
inline constexpr double kInkPerPitch = 3.0;

[[nodiscard]] MarkTask task_for(const Slot& slot, const SlotResult& blank, const LaidLoad& laid);

// Looks for the mark; `task.match` stays empty where too little of the place is seen. `blur`: told by others.
void match_task(const Photo& photo, const Camera& camera, const std::optional<MarkBlur>& blur, MarkTask& task);

// A photo blurs its marks alike: by all that are there for sure, each by how plainly it shows. Nothing where one mark
// outweighs the others.
[[nodiscard]] std::optional<MarkBlur> common_blur(const std::vector<MarkTask>& tasks);
// A mark that tells another blur than all together: it is fainter than they, and to be matched anew by theirs.
[[nodiscard]] bool takes_blur(const MarkTask& task, const MarkBlur& common);

}  // namespace jigtrue
