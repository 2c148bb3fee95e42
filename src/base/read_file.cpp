#include "jigtrue/base/read_file.hpp"

#include "jigtrue/base/error.hpp"

#include <algorithm>
#include <fcntl.h>
#include <new>
#include <sys/stat.h>
#include <unistd.h>

#include "base/file_descriptor.hpp"

namespace jigtrue {
namespace {

namespace fs = std::filesystem;

InputError too_large(const fs::path& file, std::size_t max_bytes) {
  return input_error(file.string(), "larger than " + std::to_string(max_bytes) + " bytes",
                     "check that it is the right file");
}

struct stat status_of(const fs::path& file, int descriptor) {
  struct stat status = {};
  if (::fstat(descriptor, &status) != 0) throw system_input_error(file, "cannot be read", errno);
  if (S_ISDIR(status.st_mode)) throw input_error(file.string(), "is a folder, not a file", "name the file itself");
  return status;
}

// Fills the room given; fewer bytes only at the end of the file.
std::size_t read_up_to(const fs::path& file, int descriptor, unsigned char* room, std::size_t count) {
  std::size_t done = 0;
  while (done < count) {
    const ssize_t got = ::read(descriptor, room + done, count - done);
    if (got == 0) break;
    if (got < 0 && errno != EINTR) throw system_input_error(file, "cannot be read", errno);
    if (got > 0) done += static_cast<std::size_t>(got);
  }
  return done;
}

FileBytes read_regular(const fs::path& file, int descriptor, std::size_t size) {
  FileBytes bytes{std::make_unique_for_overwrite<unsigned char[]>(size), 0};
  bytes.size = read_up_to(file, descriptor, bytes.data.get(), size);
  return bytes;
}

// A pipe, or a file of the system whose size is not told beforehand.
FileBytes read_stream(const fs::path& file, int descriptor, std::size_t max_bytes) {
  constexpr std::size_t first_room = 64u << 10;
  FileBytes bytes;
  std::size_t room = 0;
  while (bytes.size == room) {
    if (bytes.size > max_bytes) throw too_large(file, max_bytes);
    room = std::max(first_room, 2 * room);
    auto grown = std::make_unique_for_overwrite<unsigned char[]>(room);
    std::copy_n(bytes.data.get(), bytes.size, grown.get());
    bytes.data = std::move(grown);
    bytes.size += read_up_to(file, descriptor, bytes.data.get() + bytes.size, room - bytes.size);
  }
  if (bytes.size > max_bytes) throw too_large(file, max_bytes);
  return bytes;
}

}  // namespace

FileBytes read_file_bytes(const fs::path& file, std::size_t max_bytes) {
  const FileDescriptor descriptor(::open(file.c_str(), O_RDONLY | O_CLOEXEC));
  if (!descriptor.ok()) throw system_input_error(file, "cannot be read", errno);
  const struct stat status = status_of(file, descriptor.get());
  const bool size_known = S_ISREG(status.st_mode) && status.st_size > 0;
  const auto size = static_cast<std::size_t>(std::max<off_t>(status.st_size, 0));
  if (size_known && size > max_bytes) throw too_large(file, max_bytes);
  try {
    return size_known ? read_regular(file, descriptor.get(), size) : read_stream(file, descriptor.get(), max_bytes);
  } catch (const std::bad_alloc&) {
    throw input_error(file.string(), "does not fit into memory", "close other programs or use a smaller file");
  }
}

std::string read_text_file(const fs::path& file, std::size_t max_bytes) {
  const FileBytes bytes = read_file_bytes(file, max_bytes);
  return {bytes.data.get(), bytes.data.get() + bytes.size};
}

}  // namespace jigtrue
