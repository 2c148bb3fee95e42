// The artwork that `jigtrue place` is given: drawings, a job's passes, a list of names.
#pragma once
#include "cli/guard_inputs.hpp"
#include "cli/place_arguments.hpp"
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/layout/job_file.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <map>
#include <string>
#include <vector>

namespace jigtrue::cli {

// What the drawings and lists give, before any slot is looked at.
struct Source {
  Paths files;  // the drawings that a job or a list names
  Job job;
  std::vector<Pass> common;  // empty when there is none
  std::vector<std::string> notes;
  std::map<std::string, std::string> texts;  // of the list of names, by slot
};

// Throws InputError where options contradict each other, or give nothing to place.
void refuse_mixture(const PlaceArguments& arguments);

// Drawings alone, not the list of names.
[[nodiscard]] Source read_source(const PlaceArguments& arguments);
// What the list of names says of each slot, into either.
void add_names(const PlaceArguments& arguments, const CheckResult& result, Source& source, DesignArt& art);

}  // namespace jigtrue::cli
