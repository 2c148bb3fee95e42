// Edge models by what they depend on, shared between blocks, slots, rounds and threads.
#pragma once
#include "jigtrue/detection/edge_fit.hpp"

#include <array>
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <optional>

namespace jigtrue {

// Made anew for each stretch, a check of discs takes 1.7 times as long, one of rods 2 to 5 times. Those longest not
// asked for are given up when there are many: a bed of tags has more kinds of edges than are worth
// their memory, and making one anew costs a few fits.
class EdgeModelStore {
 public:
  [[nodiscard]] std::shared_ptr<const EdgeModel> get(const EdgeModelOptions& options);

 private:
  using Key = std::array<long, 10>;
  struct Entry {
    // Not std::once_flag: an exception through std::call_once needs the unwinder, which cannot be loaded without
    // memory.
    std::mutex making;
    std::optional<EdgeModel> model;
  };
  struct Kept {
    std::shared_ptr<Entry> entry;
    std::list<Key>::iterator use;
  };
  [[nodiscard]] std::shared_ptr<Entry> entry_of(const Key& key);

  std::mutex mutex_;  // of what follows; every model is made by the first that asks for it, while others go on
  std::map<Key, Kept> entries_;
  std::list<Key> uses_;  // asked for last: last
};

}  // namespace jigtrue
