// Sizes of a blank that its file leaves to the photo ("measure"): the load as a whole tells them.
#pragma once
#include "jigtrue/measurement/scout_photo.hpp"

#include <string>
#include <vector>

namespace jigtrue {

struct MeasuredSize {
  std::string field;  // "diameter_mm", ... of the file's "blank"
  double mm = 0.0;
  double u_mm = 0.0;        // 95 %, the camera's share and the seat height's included
  double scatter_mm = 0.0;  // that blanks have about it, 1 sigma, no less than so few can tell; 0 of a single one
  double least_mm = 0.0;    // of the blanks, each by itself
  double most_mm = 0.0;
  int blanks = 0;             // that it comes from
  double tolerance_mm = 0.0;  // in the file with it: how far a blank of this load may differ
  double lift_mm = 0.0;       // what kSizeStep_mm more would do to the height of the blank's axis or top face
};
inline constexpr double kSizeStep_mm = 0.1;  // sizes are told to a tenth, as callipers' marks are

struct MeasuredSizes {
  std::string json_text;  // the file again, with numbers in place of "measure"
  std::vector<MeasuredSize> sizes;
};

// `json_text`: of a file that read_like takes once its sizes are numbers. Nothing is measured where none says
// "measure"; of several loads, what an earlier one told ("x_measured") is measured again. Throws InputError as
// scout_photos does, and when the loads do not tell one size.
[[nodiscard]] MeasuredSizes measure_sizes(const std::vector<ScoutedLoad>& loads, const std::string& json_text,
                                          const std::string& file_name, const ScoutOptions& options,
                                          EdgeModelStore& models);

// What a size is, where it comes from, and what an error of it would do to the offsets of these slots. A sentence.
[[nodiscard]] std::string size_sentence(const MeasuredSize& size, const Camera& camera,
                                        const std::vector<ScoutedSlot>& slots);

}  // namespace jigtrue
