// job.json: the passes of a design, in their order, and how each is burned.
#pragma once
#include "jigtrue/layout/design_art.hpp"

#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

struct JobPass {
  std::string name;
  std::string artwork_file;  // relative to the job file's folder; empty for the names of a list
  std::optional<PassTiming> timing;
};

struct Job {
  std::vector<JobPass> passes;
  double travel_mm_s = 300.0;  // between outlines
};

// Reads
//   { "schema": "jigtrue.job/1", "travel_mm_s": 300,
//     "passes": [
//       { "name": "fill", "artwork": "fill.svg", "burn": "scan", "speed_mm_s": 200, "lines_per_cm": 100,
//         "overscan_mm": 2.5, "times": 1 },
//       { "name": "outline", "artwork": "outline.svg", "burn": "trace", "speed_mm_s": 20 } ] }
// "burn" with its speed is optional: without it the pass is placed but its time is not estimated. A pass named "names"
// without artwork gives the timing of a list of names. Throws InputError naming field, value, rule and remedy.
[[nodiscard]] Job read_job(const std::string& json_text, const std::string& file_name);

// Passes from drawings of one page: their pages must agree, so that they stay in register. Throws InputError.
[[nodiscard]] std::vector<Pass> passes_in_register(const std::vector<JobPass>& passes,
                                                   const std::vector<Artwork>& artworks);

}  // namespace jigtrue
