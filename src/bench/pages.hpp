// The bench's pages as markup. Private to this layer.
#pragma once
#include "jigtrue/bench/bench_site.hpp"
#include "jigtrue/bench/desk.hpp"

#include <string>

namespace jigtrue::bench {

[[nodiscard]] std::string style();
[[nodiscard]] std::string script();
// The page whole, and its part that changes.
[[nodiscard]] std::string page(const Desk& desk, const SiteOptions& options);
[[nodiscard]] std::string view(const Desk& desk, const SiteOptions& options);
[[nodiscard]] std::string packing_list(const Book& book, const Batch& batch);

}  // namespace jigtrue::bench
