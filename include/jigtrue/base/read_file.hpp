// Whole files into memory.
#pragma once
#include <cstddef>
#include <filesystem>
#include <memory>
#include <span>
#include <string>

namespace jigtrue {

struct FileBytes {
  std::unique_ptr<unsigned char[]> data;
  std::size_t size = 0;

  [[nodiscard]] std::span<const unsigned char> span() const { return {data.get(), size}; }
};

// Both read at most max_bytes, from an ordinary file or a pipe.
// Throw InputError naming the file and what to do: missing, a folder, unreadable, larger than max_bytes, no memory for
// it.
[[nodiscard]] FileBytes read_file_bytes(const std::filesystem::path& file, std::size_t max_bytes);
[[nodiscard]] std::string read_text_file(const std::filesystem::path& file, std::size_t max_bytes = 64u << 20);

}  // namespace jigtrue
