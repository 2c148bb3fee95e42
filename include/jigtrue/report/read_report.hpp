// report.json back into what it was written from: the next command's input.
#pragma once
#include "jigtrue/layout/machine.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>

namespace jigtrue {

// Takes any report of schema jigtrue.report/1, with or without the fields beyond the contract: nominal places then
// follow from centre less offset, and the room for a design from usable_band_mm. What is drawn over the photo comes
// back where the report has it. Throws InputError naming file, field and remedy: not JSON, another schema, a slot
// without id or state, an id given twice, a found slot without numbers, numbers that are not finite or out of all
// bounds.
[[nodiscard]] CheckResult read_report(const std::string& json_text, const std::string& file_name);

// The machine that the report was made with; nothing when it had none. Throws InputError as above.
[[nodiscard]] std::optional<Machine> read_report_bed(const std::string& json_text, const std::string& file_name);

}  // namespace jigtrue
