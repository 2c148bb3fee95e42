// What was to be burned, from the files that say so: the other half of an inspection beside the photo.
#pragma once
#include "jigtrue/inspection/inspect_load.hpp"

#include <optional>
#include <string>

namespace jigtrue {

struct NamedText {
  std::string text;
  std::string file;  // for messages
};

// `report`: report.json of the load. `placement`: placement.json of the layout that was burned, if place wrote one; its
// slots' places and artwork then stand in for the report's (of each slot only id, centre_mm and axis_deg are needed).
// `art`: what was burned, where neither file has it. Throws InputError as read_report does; when the report does not
// hold its fixture, or nothing says what was burned; when the placement names a slot that the report has not.
[[nodiscard]] LaidLoad read_laid_load(const NamedText& report, const std::optional<NamedText>& placement,
                                      const DesignArt& art = {});

}  // namespace jigtrue
