// Times as people read them.
#pragma once
#include <string>

namespace jigtrue {

// "2024-05-01T12:00:00Z" (UTC, as files keep it) as "1 May 2024, 14:00" where the clocks show that: by the machine's
// own time zone (TZ). Any other text comes back as it is.
[[nodiscard]] std::string local_time(const std::string& iso_utc);

}  // namespace jigtrue
