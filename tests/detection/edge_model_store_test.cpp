#include "jigtrue/detection/edge_model_store.hpp"

#include <thread>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

TEST(EdgeModelStore, GivesAllThreadsTheSameModel) {
  EdgeModelStore store;
  EdgeModelOptions options;
  options.radius_px = 20.0;
  std::vector<std::shared_ptr<const EdgeModel>> seen(4);
  std::vector<std::thread> threads;
  threads.reserve(seen.size());
  for (auto& model : seen) threads.emplace_back([&store, &options, &model] { model = store.get(options); });
  for (std::thread& thread : threads) thread.join();
  for (const auto& model : seen) EXPECT_EQ(model, seen.front());
  options.blur_px += 0.1;
  EXPECT_NE(store.get(options), seen.front());
}

// One that is given up stays with whom it was given to, and is the same when it is asked for again.
TEST(EdgeModelStore, GivesUpWhatWasLongNotAskedFor) {
  EdgeModelStore store;
  EdgeModelOptions options;
  EdgeModelOptions in_use;
  in_use.radius_px = 20.0;
  const auto first = store.get(options);
  const auto used = store.get(in_use);
  std::shared_ptr<const EdgeModel> last;
  for (int i = 1; i <= 400; ++i) {
    options.wall_px = 0.01 * i;
    last = store.get(options);
    EXPECT_EQ(store.get(in_use), used);
  }
  EXPECT_EQ(store.get(options), last);
  options.wall_px = 0.0;
  const auto again = store.get(options);
  EXPECT_NE(again, first);
  EXPECT_EQ(again->columns(), first->columns());
}

}  // namespace
}  // namespace jigtrue
