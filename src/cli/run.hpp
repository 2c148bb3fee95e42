// The command line as a function: arguments in, exit status out.
#pragma once
#include <ostream>
#include <string>
#include <vector>

namespace jigtrue::cli {

// 0 done, every slot ready; 1 done, some slot needs a person; 2 refused or failed, the reason on `err` in one line.
[[nodiscard]] int run(const std::vector<std::string>& arguments, std::ostream& out, std::ostream& err);

}  // namespace jigtrue::cli
