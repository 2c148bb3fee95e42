#include "image/exif_orientation.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>

namespace jigtrue {
namespace {

// Every read is checked against the block's end: offsets in it are whatever the file says.
class ExifBlock {
 public:
  explicit ExifBlock(std::span<const unsigned char> bytes) : bytes_(bytes) {}

  [[nodiscard]] bool read_byte_order() {
    if (bytes_.size() < 2 || bytes_[0] != bytes_[1]) return false;
    big_endian_ = bytes_[0] == 'M';
    return big_endian_ || bytes_[0] == 'I';
  }
  [[nodiscard]] std::optional<std::uint32_t> unsigned_at(std::size_t offset, std::size_t count) const {
    if (offset > bytes_.size() || count > bytes_.size() - offset) return std::nullopt;
    std::uint32_t value = 0;
    for (std::size_t i = 0; i < count; ++i) {
      value = value << 8 | bytes_[offset + (big_endian_ ? i : count - 1 - i)];
    }
    return value;
  }

 private:
  std::span<const unsigned char> bytes_;
  bool big_endian_ = false;
};

}  // namespace

int exif_orientation(std::span<const unsigned char> bytes) {
  constexpr int upright = 1;
  constexpr std::uint32_t magic = 42;
  constexpr std::uint32_t orientation_tag = 274;
  constexpr std::uint32_t type_short = 3;
  constexpr std::size_t entry_size = 12;

  ExifBlock block(bytes);
  if (!block.read_byte_order() || block.unsigned_at(2, 2) != magic) return upright;
  const auto directory = block.unsigned_at(4, 4);
  if (!directory) return upright;
  const auto count = block.unsigned_at(*directory, 2);
  for (std::size_t i = 0; count && i < *count; ++i) {
    const std::size_t entry = std::size_t{*directory} + 2 + i * entry_size;
    const auto tag = block.unsigned_at(entry, 2);
    if (!tag) return upright;
    if (*tag != orientation_tag) continue;
    const auto value = block.unsigned_at(entry + 8, 2);
    const bool valid = block.unsigned_at(entry + 2, 2) == type_short && value && *value >= 1 && *value <= 8;
    return valid ? static_cast<int>(*value) : upright;
  }
  return upright;
}

}  // namespace jigtrue
