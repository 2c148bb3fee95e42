// report.html: the whole answer as one page that opens anywhere.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"
#include "jigtrue/report/report_options.hpp"

#include <string>

namespace jigtrue {

// One self-contained UTF-8 file: picture embedded, styles inline, no script, nothing fetched (a content security policy
// forbids it). picture_jpeg is the photo alone, encoded, of any size: what was measured is drawn over it as vector
// layers. Throws std::logic_error when a number is not finite.
[[nodiscard]] std::string report_html(const CheckResult& result, const std::string& picture_jpeg,
                                      const ReportOptions& options);

}  // namespace jigtrue
