#include "image/large_pages.hpp"

#ifdef __linux__
#include <cstdint>
#include <sys/mman.h>
#include <unistd.h>
#endif

namespace jigtrue {

void wish_for_large_pages([[maybe_unused]] const cv::Mat& picture) {
#ifdef __linux__
  constexpr std::uintptr_t kWorthwhile = 4U << 20;  // bytes
  if (picture.empty()) return;
  const auto page = static_cast<std::uintptr_t>(sysconf(_SC_PAGESIZE));
  const auto begin = (reinterpret_cast<std::uintptr_t>(picture.data) + page - 1) / page * page;
  const auto end = reinterpret_cast<std::uintptr_t>(picture.dataend) / page * page;
  if (end < begin + kWorthwhile) return;
  madvise(reinterpret_cast<void*>(begin), end - begin, MADV_HUGEPAGE);  // NOLINT(performance-no-int-to-ptr)
#endif
}

}  // namespace jigtrue
