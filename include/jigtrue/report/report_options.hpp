// What the outputs say beside the result itself. Passed in, so that equal input gives equal bytes.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/layout/machine.hpp"

#include <optional>
#include <string>

namespace jigtrue {

struct ReportOptions {
  std::string created;           // ISO 8601, e.g. "2024-05-01T12:00:00Z"
  std::string software_version;  // e.g. "0.1.0"
  std::optional<Machine> machine;
  DesignArt art = {};                             // what the layout holds; without it, the designs' boxes
  std::optional<Fixture> fixture = std::nullopt;  // as declared, kept in report.json for who inspects the load later
};

}  // namespace jigtrue
