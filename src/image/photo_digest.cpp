#include "jigtrue/image/photo_digest.hpp"

#include <array>
#include <cstdint>
#include <cstdio>
#include <cstring>

namespace jigtrue {
namespace {

class Fnv {
 public:
  void add(std::uint64_t word) { hash_ = (hash_ ^ word) * 1099511628211ULL; }
  [[nodiscard]] std::uint64_t value() const { return hash_; }

 private:
  std::uint64_t hash_ = 14695981039346656037ULL;
};

}  // namespace

std::string photo_digest(const Photo& photo) {
  Fnv fnv;
  fnv.add(static_cast<std::uint64_t>(photo.width_px()));
  fnv.add(static_cast<std::uint64_t>(photo.height_px()));
  for (int y = 0; y < photo.luma.rows; ++y) {
    const unsigned char* row = photo.luma.ptr(y);
    int x = 0;
    for (; x + 8 <= photo.luma.cols; x += 8) {
      std::uint64_t word = 0;
      std::memcpy(&word, row + x, sizeof word);
      fnv.add(word);
    }
    for (; x < photo.luma.cols; ++x) fnv.add(row[x]);
  }
  std::array<char, 24> text{};
  std::snprintf(text.data(), text.size(), "%016llx", static_cast<unsigned long long>(fnv.value()));
  return text.data();
}

}  // namespace jigtrue
