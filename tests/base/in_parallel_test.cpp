#include "jigtrue/base/in_parallel.hpp"

#include <algorithm>
#include <atomic>
#include <stdexcept>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

TEST(InParallel, DoesEveryItemOnceWithWorkersOfItsOwnNumber) {
  for (const int threads : {-1, 1, 3, 50}) {
    std::vector<std::atomic<int>> done(17);
    std::atomic<std::size_t> largest{0};
    in_parallel(done.size(), threads, [&](std::size_t item, std::size_t worker) {
      ++done[item];
      std::size_t known = largest;
      while (worker > known && !largest.compare_exchange_weak(known, worker)) {
      }
    });
    for (const auto& times : done) EXPECT_EQ(times, 1) << threads << " threads";
    EXPECT_LT(largest, static_cast<std::size_t>(std::max(threads, 1)));
  }
}

TEST(InParallel, DoesNothingForNoItems) {
  in_parallel(0, 4, [](std::size_t, std::size_t) { FAIL(); });
}

TEST(InParallel, ThrowsTheLowestItemsExceptionAndBeginsNoMore) {
  std::atomic<int> begun{0};
  const auto work = [&](std::size_t item, std::size_t) {
    ++begun;
    if (item >= 3) throw std::runtime_error("item " + std::to_string(item));
  };
  for (const int threads : {1, 4}) {
    begun = 0;
    try {
      in_parallel(1000, threads, work);
      FAIL() << "nothing was thrown";
    } catch (const std::runtime_error& error) {
      EXPECT_STREQ(error.what(), "item 3");
    }
    EXPECT_LE(begun, 3 + threads);
  }
}

}  // namespace
}  // namespace jigtrue
