// The artwork that goes onto each slot: passes in their order, centred on (0, 0).
#pragma once
#include "jigtrue/layout/artwork.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// How the machine burns a pass; only the estimate of the time needs it.
enum class PassKind { scan, trace };
struct PassTiming {
  PassKind kind = PassKind::scan;
  double speed_mm_s = 0.0;
  double lines_per_cm = 0.0;  // scan only
  double overscan_mm = 0.0;   // scan only: beyond the ink at either end of a line, to speed up and slow down
  int times = 1;              // how often the whole pass runs
};

struct Pass {
  std::string name;  // may be empty when it is the only one
  std::vector<InkShape> shapes;
  std::optional<PassTiming> timing;
};

// Passes centred together, by the middle of all their ink, so that they stay in register.
[[nodiscard]] std::vector<Pass> centred(const std::vector<Pass>& passes);
[[nodiscard]] InkBox ink_of(const std::vector<Pass>& passes);

struct DesignArt {
  std::shared_ptr<const std::vector<Pass>> common;
  std::map<std::string, std::shared_ptr<const std::vector<Pass>>> own;  // by slot id

  [[nodiscard]] std::shared_ptr<const std::vector<Pass>> of(const std::string& slot_id) const {
    const auto found = own.find(slot_id);
    return found == own.end() ? common : found->second;
  }
  [[nodiscard]] bool empty() const { return common == nullptr && own.empty(); }
};

// One drawing for all slots, as one pass without a name.
[[nodiscard]] DesignArt common_art(const Artwork& artwork);

// Squeezes shapes across so that, burned on a barrel of this radius, they look undistorted along its surface: what was
// drawn at arc length s from the axis is burned at R sin(s / R) (plus the shift of a leaning beam). Curves become
// straight pieces within 0.005 mm. Nothing when the drawing reaches beyond a quarter of the way round.
[[nodiscard]] std::optional<std::vector<Pass>> wrapped(const std::vector<Pass>& passes, double radius_mm,
                                                       double lean_rad);

}  // namespace jigtrue
