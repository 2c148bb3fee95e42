// layout.dxf: the placed artwork as lines, in the bed frame.
#pragma once
#include "jigtrue/layout/placement.hpp"

#include <string>

namespace jigtrue {

// ASCII DXF R12 (AC1009), millimetres, X and Y those of the bed frame: (0, 0) is the machine's own origin. Every
// sub-path is a POLYLINE on the layer of its pass ("design" for a pass without a name), curves flattened to 0.002 mm,
// coordinates to 0.0001 mm; a slot without artwork gives its design's box. R12 is the version that every importer reads
// and that needs no handles and no object tree. Fills are outlines here: DXF has lines only.
[[nodiscard]] std::string layout_dxf(const Placement& placement);

}  // namespace jigtrue
