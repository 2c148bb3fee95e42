// One slot's frame, to be burned lightly on tape before a load is: whether machine, import and photo mean the same
// place. Photographed, it is inspected as a burned load is.
#pragma once
#include "jigtrue/layout/placement.hpp"

#include <memory>
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
  Placement placement;                   // that frame alone, as its artwork; all other slots are left out
  std::vector<ProofDistance> distances;  // to the ends, and of flat kinds to the sides
  bool round = false;                    // then the frame's middle line belongs on the blank's crown

  [[nodiscard]] const PlacedDesign& design() const { return placement.placed.front(); }
};

// Of the ready slots that declare a design the one farthest from the machine's own zero: what is scaled, or imported by
// another corner, shows most there. Throws InputError, naming `where`, when there is none.
[[nodiscard]] Proof proof_of(const CheckResult& result, const std::optional<Machine>& machine,
                             const std::string& where);

// The frame's own drawing about (0, 0): its ends, its middle line, and a zigzag between its sides that fits in one
// place only.
[[nodiscard]] std::shared_ptr<const std::vector<Pass>> proof_frame(const DesignBox& box);

// The layout's page with that frame alone.
[[nodiscard]] std::string proof_svg(const Proof& proof);

}  // namespace jigtrue
