// Pieces of the batch given to the blanks of a load.
#pragma once
#include "jigtrue/bench/desk.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>

namespace jigtrue {

// Which piece each slot gets, and what is drawn on it.
struct Dressing {
  std::map<std::string, std::int64_t> pieces;  // by slot
  DesignArt art;
};

// The pieces that wait go to the ready slots in the fixture's order; slots beyond them are left out. Where names are
// set, `result` takes their sizes for the slots' designs, and whether they fit.
[[nodiscard]] Dressing dressed(const DeskSetup& setup, const Book& book, const std::optional<Batch>& batch,
                               const DesignOffer* design, const DesignArt& usual, CheckResult& result);

}  // namespace jigtrue
