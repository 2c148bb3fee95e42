// layout.dxf: the placed artwork as lines, in the bed frame.
#pragma once
#include "jigtrue/layout/placement.hpp"

#include <string>

namespace jigtrue {

// ASCII DXF, version AC1015, the first whose header says the unit ($INSUNITS: millimetres), X and Y
// those of the bed frame: (0, 0) is the machine's own origin. Every sub-path is an LWPOLYLINE on the layer of its pass
// ("DESIGN" for a pass without a name), curves flattened to 0.0008 mm, coordinates to 0.0001 mm; a slot without artwork
// gives its design's box. Fills are outlines here: DXF has lines only. Throws InputError beyond 20,000,000 points.
[[nodiscard]] std::string layout_dxf(const Placement& placement);

}  // namespace jigtrue
