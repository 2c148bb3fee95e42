#include "jigtrue/base/append_line.hpp"

#include "jigtrue/base/error.hpp"

#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <stdexcept>
#include <sys/stat.h>
#include <unistd.h>

namespace jigtrue {
namespace {

class Descriptor {
 public:
  explicit Descriptor(int fd) : fd_(fd) {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() {
    if (fd_ >= 0) ::close(fd_);
  }
  [[nodiscard]] int get() const { return fd_; }

 private:
  int fd_;
};

InputError failed(const std::filesystem::path& file, const std::string& what) {
  return input_error(file.string(), what + ": " + std::strerror(errno), "choose a file that can be written");
}

bool ends_open(int fd) {
  struct stat info {};
  char last = '\n';
  if (::fstat(fd, &info) != 0 || info.st_size == 0) return false;
  return ::pread(fd, &last, 1, info.st_size - 1) == 1 && last != '\n';
}

}  // namespace

void append_line(const std::filesystem::path& file, const std::string& line) {
  if (line.find('\n') != std::string::npos) throw std::logic_error("append_line: the line holds a line break");
  const Descriptor descriptor(::open(file.c_str(), O_RDWR | O_APPEND | O_CREAT | O_CLOEXEC, 0644));
  if (descriptor.get() < 0) throw failed(file, "cannot be opened for adding a line");
  const std::string text = (ends_open(descriptor.get()) ? "\n" : "") + line + "\n";
  const ssize_t written = ::write(descriptor.get(), text.data(), text.size());
  if (written < 0 || static_cast<std::size_t>(written) != text.size()) {
    if (written >= 0) errno = ENOSPC;
    throw failed(file, "a line could not be added");
  }
  // a pipe or a device has nothing to flush
  if (::fsync(descriptor.get()) != 0 && errno != EINVAL && errno != EROFS) throw failed(file, "could not be flushed");
}

}  // namespace jigtrue
