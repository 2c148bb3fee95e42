// A supposed size held against a photo: which blanks of it are there, and what they measure.
#pragma once
#include "jigtrue/detection/propose_sizes.hpp"
#include "jigtrue/fixture/like_file.hpp"
#include "jigtrue/measurement/common_sizes.hpp"
#include "jigtrue/measurement/measure_sizes.hpp"

#include <optional>
#include <string>
#include <vector>

#include "measurement/blank_search.hpp"

namespace jigtrue {

// What the file leaves to be measured, and where it stands there.
struct SizesAsked {
  std::string text;
  std::string file;
  std::vector<std::string> fields;
  std::vector<std::string> told;  // by photos of earlier loads, tolerances too
  bool again = false;             // it is those that are asked

  [[nodiscard]] static bool is_length(const std::string& field) { return field == "length_mm" || field == "width_mm"; }
  [[nodiscard]] SizesWanted wanted() const {
    SizesWanted wanted;
    for (const std::string& field : fields) (is_length(field) ? wanted.length : wanted.girth) = true;
    return wanted;
  }
  // The file with these sizes in place of "measure".
  [[nodiscard]] std::string with(double girth_mm, double length_mm) const {
    std::string written = text;
    for (const std::string& field : fields)
      written = with_size(written, field, is_length(field) ? length_mm : girth_mm);
    return written;
  }
  [[nodiscard]] LikeFile like(double girth_mm, double length_mm) const {
    return read_like(with(girth_mm, length_mm), file);
  }
};

// What came of one supposed size.
struct SizeTrial {
  LikeFile like;
  std::vector<ScoutedPlace> measured;
  double evidence = 0.0;
  [[nodiscard]] double girth_mm() const { return largest_girth_mm(like.kind.blank.shape); }
  [[nodiscard]] double length_mm() const { return jigtrue::length_mm(like.kind.blank.shape); }
};

// Judges these places, supposing this size.
[[nodiscard]] SizeTrial tried_size(const ScoutedLoad& load, LikeFile like, double within_mm,
                                   const std::vector<ProposedPlace>& places, const ScoutOptions& options,
                                   EdgeModelStore& models);

// Blanks of this size on the whole bed: a dozen tell it.
[[nodiscard]] std::vector<ProposedPlace> plainest_places(const ScoutedLoad& load, const Slot& kind, int threads);

constexpr double kMeasuredWithin_mm = 0.4;  // of a size that has been measured once

struct LoadSizes {
  CommonMean girth;  // of one blank: itself, its own half-width for scatter and mean alike
  CommonMean length;
  double own_girth_sigma_mm = 0.0;  // of a single blank, about: what the blanks' number does not lessen
  double own_length_sigma_mm = 0.0;
  std::vector<double> girths;  // that each blank has
  std::vector<double> lengths;
};

// Nothing where the blanks do not agree, or where their ends are not seen.
[[nodiscard]] std::optional<LoadSizes> size_of_load(const SizeTrial& trial);

// Supposed sizes are off by a millimetre or so: each is measured at a few places, supposed as measured, and measured
// again wherever such a blank may lie.
[[nodiscard]] SizeTrial refined_size(const ScoutedLoad& load, const SizesAsked& asked, SizeTrial trial,
                                     const ScoutOptions& options, EdgeModelStore& models);

}  // namespace jigtrue
