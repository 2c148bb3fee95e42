// What is asked for beside the bench's view: photos, fixture and design, a batch.
#pragma once
#include "jigtrue/bench/desk.hpp"

#include <string>

#include "bench/pages.hpp"

namespace jigtrue::bench {

[[nodiscard]] std::string controls(const Desk& desk, const SiteOptions& options);

}  // namespace jigtrue::bench
