#include "jigtrue/bench/turns.hpp"

namespace jigtrue {

Turns::Turn::Turn(Turns& turns) : turns_(turns) {
  std::unique_lock<std::mutex> guard(turns_.mutex_);
  const std::uint64_t mine = ++turns_.last_given_;
  turns_.next_.wait(guard, [&] { return turns_.on_turn_ == mine; });
}

Turns::Turn::~Turn() {
  {
    const std::lock_guard<std::mutex> guard(turns_.mutex_);
    ++turns_.on_turn_;
  }
  turns_.next_.notify_all();
}

}  // namespace jigtrue
