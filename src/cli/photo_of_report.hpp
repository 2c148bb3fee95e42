// The photo that a report was made from.
#pragma once
#include "cli/guard_inputs.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>

namespace jigtrue::cli {

// Where it may be: as it was named then, or beside the report.
[[nodiscard]] Paths photo_places(const CheckResult& result, const std::string& report);
// Nothing where it is gone, or another one by now.
[[nodiscard]] std::optional<Photo> photo_of(const CheckResult& result, const std::string& report);

}  // namespace jigtrue::cli
