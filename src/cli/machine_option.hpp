// The machine that a layout is for: named on the command line, or once for all by a file.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/layout/machine.hpp"

#include <optional>
#include <string>

namespace jigtrue::cli {

// The file that is to be read: the option's, else the one that the fixture names (beside the fixture's own file); empty
// when neither names one.
[[nodiscard]] std::string machine_file(const std::string& option, const Fixture& fixture,
                                       const std::string& fixture_file);

// Nothing for an empty name. Throws InputError as read_machine does.
[[nodiscard]] std::optional<Machine> machine_of(const std::string& file);

// A note for who keeps `read` as `written` in another folder, where the files that it names are looked for; else empty.
[[nodiscard]] std::string strayed_files(const std::string& read, const std::string& written, const Fixture& fixture);

}  // namespace jigtrue::cli
