// Owns an open file; the one place that speaks of errno in words.
#pragma once
#include "jigtrue/base/error.hpp"

#include <cerrno>
#include <filesystem>
#include <string>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace jigtrue {

class FileDescriptor {
 public:
  explicit FileDescriptor(int descriptor) : descriptor_(descriptor) {}
  FileDescriptor(const FileDescriptor&) = delete;
  FileDescriptor& operator=(const FileDescriptor&) = delete;
  ~FileDescriptor() { close(); }

  [[nodiscard]] int get() const { return descriptor_; }
  [[nodiscard]] int release() { return std::exchange(descriptor_, -1); }
  [[nodiscard]] bool ok() const { return descriptor_ >= 0; }
  // Returns 0 or the error's number. The descriptor is gone either way (Linux frees it even on EINTR).
  int close() {
    const int descriptor = std::exchange(descriptor_, -1);
    return descriptor >= 0 && ::close(descriptor) != 0 && errno != EINTR ? errno : 0;
  }

 private:
  int descriptor_;
};

// A system error on a path, told with the remedy that fits it; `doing` is what was tried, such as "cannot be written".
[[nodiscard]] inline InputError system_input_error(const std::filesystem::path& path, const std::string& doing,
                                                   int error) {
  const auto told = [&](const std::string& why, const std::string& remedy) {
    return input_error(path.string(), doing + ": " + why, remedy);
  };
  switch (error) {
    case EACCES:
    case EPERM:
      return told("permission denied", "allow it for this user or choose another place");
    case EROFS:
      return told("the disk is read-only", "choose another place");
    case ENOSPC:
      return told("the disk is full", "make room or choose another place");
    case EDQUOT:
      return told("the quota is used up", "make room or choose another place");
    case ENOENT:
      return told("no such file or folder", "check the name");
    case ENOTDIR:
      return told("a part of the path is a file, not a folder", "check the path");
    case ELOOP:
      return told("symbolic links lead in a circle", "name the file itself");
    case ENAMETOOLONG:
      return told("the name is too long", "choose a shorter one");
    default:
      return told(std::generic_category().message(error), "try again or choose another place");
  }
}

}  // namespace jigtrue
