// What a person probably meant by a name that does not exist.
#pragma once
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// Letters to add, drop, change or swap with their neighbour until `a` is `b` (optimal string alignment distance).
[[nodiscard]] std::size_t edit_distance(const std::string& a, const std::string& b);

// The known name that the fewest letters keep from this one. Where more than a third of its letters (at least one)
// would have to change any name would do: then the only one that it begins or that begins it, else nothing.
[[nodiscard]] std::optional<std::string> nearest_name(const std::string& unknown,
                                                      const std::vector<std::string>& known);

}  // namespace jigtrue
