// Numbers as they are typed in options.
#pragma once
#include <string>
#include <vector>

namespace jigtrue::cli {

// "80,110,0" -> {80, 110, 0}. Throws InputError naming the option when there are not exactly `count` finite numbers.
[[nodiscard]] std::vector<double> numbers(const std::string& option, const std::string& text, std::size_t count,
                                          const std::string& form);

}  // namespace jigtrue::cli
