// Independent pieces of work, side by side.
#pragma once
#include <cstddef>
#include <functional>

namespace jigtrue {

// Calls work(item, worker) once for every item below `count`, in any order, on up to `threads` threads (at least this
// one; fewer where no more are to be had). `worker`, below `threads`, tells which of them works: for scratch space that
// two must not share. After an exception no further items are begun, and of several the lowest item's is thrown.
void in_parallel(std::size_t count, int threads, const std::function<void(std::size_t item, std::size_t worker)>& work);

}  // namespace jigtrue
