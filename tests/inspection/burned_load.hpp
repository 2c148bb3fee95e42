// Loads drawn with burned marks whose place, contrast and shape are known. The mark is told from a bed point by plain
// inequalities, the drawing is read as an SVG file: the two share nothing.
#pragma once
#include "jigtrue/inspection/inspect_load.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "drawn/random_load.hpp"

namespace jigtrue::test {

// An invented drawing, 30 by 4 mm about its middle: a cross, three bars, a ring, a pennant. y down, as SVG has it.
[[nodiscard]] std::string burned_drawing();
// Whether its ink covers a point, mm along and across (across is up).
[[nodiscard]] bool has_ink(const Vector2d& uv_mm);

struct TrueMark {
  Vector2d centre_mm = Vector2d::Zero();
  double deg = 0.0;
  double contrast = 0.0;  // 0: the slot was forgotten
};

struct BurnedLoad {
  RandomLoad load;
  LaidLoad laid;
  std::vector<TrueMark> marks;  // one a slot
  CheckResult blanks;           // as if measured: where they truly lie
  Photo photo;
};

[[nodiscard]] Photo photo_from(const cv::Mat3b& bgr);

struct Beam {
  Vector2d shift_mm = Vector2d::Zero();
  double turn_deg = 0.0;
};

// A layout that puts every design within some tenths of its blank's middle, burned by a beam that is off by `beam`.
// Surfaces are matte.
// `contrasts`: one a slot. `also`: burns besides, by slot and place along and across the mark.
[[nodiscard]] BurnedLoad burned_load(LoadKind kind, const std::vector<double>& contrasts, const Beam& beam,
                                     std::uint32_t seed,
                                     const std::function<double(std::size_t, const Vector2d&)>& also = {});

// The same load not burned yet, but for a proof's frame of 40 by 4 mm in slot 2, on a strip of pale tape. As a check
// sees it, tape hides that blank's edges.
[[nodiscard]] BurnedLoad taped_load(LoadKind kind, double contrast, const Beam& beam, std::uint32_t seed);

}  // namespace jigtrue::test
