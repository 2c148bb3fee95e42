#include "jigtrue/detection/edge_model_store.hpp"

#include <cmath>
#include <iterator>

namespace jigtrue {

std::shared_ptr<EdgeModelStore::Entry> EdgeModelStore::entry_of(const Key& key) {
  constexpr std::size_t kMostKept = 40;  // 50 to 120 kB each
  const std::lock_guard<std::mutex> lock(mutex_);
  if (const auto found = entries_.find(key); found != entries_.end()) {
    uses_.splice(uses_.end(), uses_, found->second.use);
    return found->second.entry;
  }
  uses_.push_back(key);
  auto entry = std::make_shared<Entry>();
  entries_[key] = {entry, std::prev(uses_.end())};
  if (entries_.size() > kMostKept) {
    entries_.erase(uses_.front());
    uses_.pop_front();
  }
  return entry;
}

std::shared_ptr<const EdgeModel> EdgeModelStore::get(const EdgeModelOptions& options) {
  auto rounded = [](double value) { return std::lround(value * 1000.0); };
  const bool limb = options.radius_px > 0.0;
  const Key key{rounded(options.blur_px),
                options.chroma ? rounded(options.chroma_blur_px) : -1,
                rounded(options.radius_px),
                rounded(options.inside_px),
                rounded(options.outside_px),
                rounded(options.range_px),
                rounded(options.wall_px),
                rounded(options.step_px),
                limb && options.curved_shade ? 1 : 0,
                options.second_edges ? 1 : 0};
  const std::shared_ptr<Entry> entry = entry_of(key);
  const std::lock_guard<std::mutex> making(entry->making);
  if (!entry->model) entry->model.emplace(options);
  return {entry, &*entry->model};
}

}  // namespace jigtrue
