#include "image/exif_orientation.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>

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
  // Of `count` bytes up to a zero.
  [[nodiscard]] std::string text_at(std::size_t offset, std::size_t count) const {
    if (offset > bytes_.size() || count > bytes_.size() - offset) return {};
    std::string text;
    for (std::size_t i = 0; i < count && bytes_[offset + i] != 0; ++i)
      text.push_back(static_cast<char>(bytes_[offset + i]));
    return text;
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

struct ExifEntry {
  std::uint32_t type = 0;
  std::uint32_t count = 0;
  std::size_t value_at = 0;  // of four bytes: the value, or where it is
};

// TIFF 6.0 section 2: twelve bytes an entry.
std::optional<ExifEntry> entry_of(const ExifBlock& block, std::size_t directory, std::uint32_t wanted_tag) {
  const auto count = block.unsigned_at(directory, 2);
  for (std::size_t i = 0; count && i < *count; ++i) {
    const std::size_t entry = directory + 2 + i * 12;
    const auto tag = block.unsigned_at(entry, 2);
    if (!tag) return std::nullopt;
    if (*tag != wanted_tag) continue;
    const auto type = block.unsigned_at(entry + 2, 2);
    const auto values = block.unsigned_at(entry + 4, 4);
    if (!type || !values) return std::nullopt;
    return ExifEntry{*type, *values, entry + 8};
  }
  return std::nullopt;
}

constexpr std::uint32_t kShort = 3;  // types of a field: TIFF 6.0, section 2
constexpr std::uint32_t kLong = 4;
constexpr std::uint32_t kRational = 5;

std::optional<double> positive_ratio(const ExifBlock& block, std::size_t directory, std::uint32_t tag) {
  const auto entry = entry_of(block, directory, tag);
  if (!entry || entry->type != kRational || entry->count != 1) return std::nullopt;
  const auto at = block.unsigned_at(entry->value_at, 4);
  if (!at) return std::nullopt;
  const auto above = block.unsigned_at(*at, 4);
  const auto below = block.unsigned_at(std::size_t{*at} + 4, 4);
  if (!above || !below || *above == 0 || *below == 0) return std::nullopt;
  return static_cast<double>(*above) / *below;
}

int orientation_in(const ExifBlock& block, std::size_t directory) {
  const auto entry = entry_of(block, directory, 274);
  if (!entry || entry->type != kShort) return 1;
  const auto value = block.unsigned_at(entry->value_at, 2);
  return value && *value >= 1 && *value <= 8 ? static_cast<int>(*value) : 1;
}

}  // namespace

ExifFacts exif_facts(std::span<const unsigned char> bytes) {
  ExifFacts facts;
  ExifBlock block(bytes);
  if (!block.read_byte_order() || block.unsigned_at(2, 2) != 42U) return facts;
  const auto directory = block.unsigned_at(4, 4);
  if (!directory) return facts;
  facts.orientation = orientation_in(block, *directory);
  const auto pointer = entry_of(block, *directory, 0x8769);
  if (!pointer || pointer->type != kLong) return facts;
  const auto photo = block.unsigned_at(pointer->value_at, 4);
  if (!photo) return facts;
  facts.focal_mm = positive_ratio(block, *photo, 0x920A);
  facts.zoom = positive_ratio(block, *photo, 0xA404);
  constexpr std::uint32_t kTimeBytes = 20;  // "YYYY:MM:DD HH:MM:SS" and a zero (CIPA DC-008, 4.6.5)
  const auto taken = entry_of(block, *photo, 0x9003);
  if (taken && taken->count == kTimeBytes)
    if (const auto at = block.unsigned_at(taken->value_at, 4)) facts.taken = block.text_at(*at, kTimeBytes);
  return facts;
}

int exif_orientation(std::span<const unsigned char> bytes) { return exif_facts(bytes).orientation; }

}  // namespace jigtrue
