// How long something takes the processor, however busy the machine or its disk is.
#pragma once
#include <ctime>

namespace jigtrue::test {

// Seconds of processor time that this process spends in `work`, all its threads and what the kernel does for it
// included.
template <class Work>
double cpu_seconds(const Work& work) {
  const std::clock_t start = std::clock();
  work();
  return static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
}

}  // namespace jigtrue::test
