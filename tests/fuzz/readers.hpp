// Every reader of what comes from outside, as a function of bytes. Each takes anything: it accepts, or throws
// InputError with one clear line. Anything else (a crash, another exception, an accepted file whose numbers are not
// finite, an output that its own reader refuses) is a fault: fuzzing and the replay of its finds both see it.
#pragma once
#include <string>
#include <vector>

namespace jigtrue::fuzz {

struct Reader {
  const char* name;                        // also of its folder of seeds
  bool (*take)(const std::string& bytes);  // true: accepted
};

[[nodiscard]] const std::vector<Reader>& readers();

}  // namespace jigtrue::fuzz
