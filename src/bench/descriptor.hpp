// An open file of the system, closed when its owner goes.
#pragma once
#include <unistd.h>

namespace jigtrue::bench {

class Descriptor {
 public:
  explicit Descriptor(int value) : value_(value) {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() { close(); }
  void close() {
    if (value_ >= 0) ::close(value_);
    value_ = -1;
  }
  [[nodiscard]] int get() const { return value_; }

 private:
  int value_;
};

}  // namespace jigtrue::bench
