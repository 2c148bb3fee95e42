// A load on the bench's page: its slots, what is to be burned, what was burned.
#pragma once
#include "jigtrue/bench/book.hpp"

#include <string>

#include "bench/pages.hpp"
#include "bench/seen_marks.hpp"

namespace jigtrue::bench {

// As it is to be burned, or as it was.
[[nodiscard]] std::string figure(const BookLoad& load, const Seen& seen = {});

[[nodiscard]] std::string rack(const BookLoad& load, const Seen& seen = {});

[[nodiscard]] std::string burning(const BookLoad& load);

// Of a load that was burned, while it still lies there.
[[nodiscard]] std::string after_the_burn(const BookLoad& load, const Seen& seen, const SiteOptions& options);

// Of the load that lay there when a photo was not used: it may be burning while somebody tries one.
[[nodiscard]] std::string before_the_refusal(const BookLoad& load, const Seen& seen, const SiteOptions& options);

}  // namespace jigtrue::bench
