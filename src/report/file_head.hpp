// What the JSON files of a run begin with.
#pragma once
#include "jigtrue/base/text.hpp"
#include "jigtrue/report/report_options.hpp"

#include <nlohmann/json.hpp>

namespace jigtrue {

inline nlohmann::ordered_json file_head(const char* schema, const ReportOptions& options) {
  return {{"schema", schema},
          {"software", "jigtrue"},
          {"software_version", valid_utf8(options.software_version)},
          {"created", valid_utf8(options.created)}};
}

}  // namespace jigtrue
