#include "jigtrue/base/in_parallel.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace jigtrue {

void in_parallel(std::size_t count, int threads,
                 const std::function<void(std::size_t item, std::size_t worker)>& work) {
  std::atomic<std::size_t> next{0};
  std::exception_ptr failure;
  std::size_t failed_item = count;
  std::mutex failure_mutex;
  const auto run = [&](std::size_t worker) {
    for (std::size_t item = next++; item < count; item = next++) {
      try {
        work(item, worker);
      } catch (...) {
        next = count;
        const std::lock_guard<std::mutex> lock(failure_mutex);
        if (item >= failed_item) continue;
        failed_item = item;
        failure = std::current_exception();
      }
    }
  };
  const std::size_t wanted = std::min(static_cast<std::size_t>(std::max(threads, 1)), count);
  std::vector<std::thread> others;
  others.reserve(wanted);
  for (std::size_t worker = 1; worker < wanted; ++worker) {
    try {
      others.emplace_back(run, worker);
    } catch (const std::system_error&) {  // no room for one more: those at hand do all
      break;
    }
  }
  run(0);
  for (std::thread& thread : others) thread.join();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace jigtrue
