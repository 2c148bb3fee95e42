// Whether a slot may be engraved as it lies, and what keeps it from that.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// What keeps a found slot from being engraved: one clause, and what would help.
struct Obstacle {
  enum class Kind { design, precision };
  Kind kind = Kind::design;
  std::string what;
  std::string remedy;  // may be empty: then `what` says it

  [[nodiscard]] std::string text() const { return remedy.empty() ? what : what + ": " + remedy; }
};

// Of a slot that is not found there are none: its state says all.
[[nodiscard]] std::vector<Obstacle> obstacles(const SlotResult& slot);

// Found, and nothing stands in its way: the only slots that are laid out.
[[nodiscard]] bool is_ready(const SlotResult& slot);

}  // namespace jigtrue
