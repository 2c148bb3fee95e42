// The layout for the pieces of a load that want another pass.
#pragma once
#include "jigtrue/inspection/inspect_load.hpp"
#include "jigtrue/layout/placement.hpp"

namespace jigtrue {

// Marks at the place where they lie now, bare blanks at theirs, both as the machine must be told so that its beam lands
// there: by what this load's own marks say of the beam, and with the machine's errors corrected as the load was. All
// other slots are left out.
[[nodiscard]] Placement another_pass(const InspectionResult& result, const LaidLoad& laid);

}  // namespace jigtrue
