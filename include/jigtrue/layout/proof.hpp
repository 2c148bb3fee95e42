// One slot's frame, to be burned lightly on tape before a load is: whether machine, import and photo mean the same
// place.
#pragma once
#include "jigtrue/layout/placement.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// What callipers should find between frame and blank once it is burned.
struct ProofDistance {
  std::string to;  // "the blank's start"
  double mm = 0.0;
  double u_mm = 0.0;  // 95 %
};

struct Proof {
  PlacedDesign design;
  Page page;
  std::vector<ProofDistance> distances;  // to the ends, and of flat kinds to the sides
  bool round = false;                    // then the frame's middle line belongs on the blank's crown
};

// Of the ready slots that declare a design the one farthest from the machine's own zero: what is scaled, or imported by
// another corner, shows most there. Throws InputError, naming `where`, when there is none.
[[nodiscard]] Proof proof_of(const CheckResult& result, const std::optional<Machine>& machine,
                             const std::string& where);

// The layout's page with that frame alone, its middle line and a stroke across it at the design's centre.
[[nodiscard]] std::string proof_svg(const Proof& proof);

}  // namespace jigtrue
