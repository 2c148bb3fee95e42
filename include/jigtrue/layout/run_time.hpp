// How long the machine will run, from what is placed.
#pragma once
#include "jigtrue/layout/placement.hpp"

#include <string>
#include <vector>

namespace jigtrue {

struct PassTime {
  std::string name;
  double seconds = 0.0;
  std::size_t lines = 0;   // scan lines burned, all repeats
  double length_mm = 0.0;  // burned, traced or scanned over, all repeats
};

struct RunTime {
  std::vector<PassTime> passes;  // those that declare their timing, by name, in their order
  double seconds = 0.0;
  std::vector<std::string> undeclared;  // passes that say nothing of their speed
};

// A scanned pass runs over every design by itself, line by line along bed X, from the first ink of the line to the
// last, with the overscan at either end, all at the declared speed: (span + 2 overscan) / speed for each line, and 10 /
// lines_per_cm mm between lines. A traced pass follows its outlines at the declared speed and jumps between them, and
// between designs, at `travel_mm_s`. Slowing in corners and turning round within the overscan are not counted.
[[nodiscard]] RunTime estimate_run_time(const Placement& placement, double travel_mm_s = 300.0);

}  // namespace jigtrue
