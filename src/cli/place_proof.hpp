// `jigtrue place --proof`: one slot's frame, to be burned on tape.
#pragma once
#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/place_arguments.hpp"
#include "jigtrue/measurement/slot_result.hpp"
#include "jigtrue/report/report_options.hpp"

namespace jigtrue::cli {

// `inputs`: what must not be written over. The exit status.
int place_proof(const PlaceArguments& arguments, CheckResult result, const ReportOptions& options, const Paths& inputs,
                Streams streams);

}  // namespace jigtrue::cli
