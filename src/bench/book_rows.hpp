// Rows of the book's tables.
#pragma once
#include "jigtrue/bench/book.hpp"

#include <cstdint>
#include <optional>
#include <vector>

namespace jigtrue {

// Without their slots. `which`: "WHERE ... ", or empty for all; the last first.
[[nodiscard]] std::vector<BookLoad> loads_of(const Database& database, const char* which, int count);
[[nodiscard]] std::optional<BookLoad> load_called(const Database& database, std::int64_t id);
[[nodiscard]] std::vector<BookSlot> slots_of(const Database& database, std::int64_t load);
[[nodiscard]] std::optional<Batch> batch_of(const Database& database, std::int64_t id);

void add_slots(const Database& database, std::int64_t load, const BookLoad& from);
void add_files(const Database& database, std::int64_t load, const std::vector<FileContent>& files);

}  // namespace jigtrue
