// A photo made coarser by averaging.
#pragma once
#include "jigtrue/image/photo.hpp"

namespace jigtrue {

// Luma averaged over factor x factor pixels, parts of a pixel by their share; position (p + 0.5) / factor - 0.5, size
// rounded down. Chroma planes that are stored smaller already are shrunk only as far as the luma goes. Shares its
// planes with `photo` at factor 1.
[[nodiscard]] Photo shrunk(const Photo& photo, double factor);

}  // namespace jigtrue
