// First come, first served: by a mutex alone one thread could be passed over again and again.
#pragma once
#include <condition_variable>
#include <cstdint>
#include <mutex>

namespace jigtrue {

class Turns {
 public:
  // One at a time, from when it is made, which waits for all that came before, to its end.
  class Turn {
   public:
    explicit Turn(Turns& turns);
    Turn(const Turn&) = delete;
    Turn& operator=(const Turn&) = delete;
    ~Turn();

   private:
    Turns& turns_;
  };

 private:
  std::mutex mutex_;
  std::condition_variable next_;
  std::uint64_t last_given_ = 0;
  std::uint64_t on_turn_ = 1;
};

}  // namespace jigtrue
