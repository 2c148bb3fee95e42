// The program's bench command as a process of its own, on a free port.
#pragma once
#include <array>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <string>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>
#include <vector>

namespace jigtrue::test {

class BenchProcess {
 public:
  explicit BenchProcess(std::vector<std::string> options) {
    options.insert(options.begin(), {JIGTRUE_PROGRAM, "bench", "--listen", "127.0.0.1:0"});
    std::vector<char*> arguments;
    arguments.reserve(options.size() + 1);
    for (std::string& option : options) arguments.push_back(option.data());
    arguments.push_back(nullptr);
    std::array<int, 2> pipe{};
    if (::pipe(pipe.data()) != 0) return;
    child_ = ::fork();
    if (child_ == 0) {
      ::dup2(pipe[1], 1);
      ::dup2(pipe[1], 2);
      ::close(pipe[0]);
      ::close(pipe[1]);
      ::execv(JIGTRUE_PROGRAM, arguments.data());
      ::_exit(127);
    }
    ::close(pipe[1]);
    words_ = pipe[0];
    std::array<char, 4096> piece{};
    while (said_.find("Ctrl-C") == std::string::npos) {
      const ssize_t got = ::read(words_, piece.data(), piece.size());
      if (got <= 0) break;
      said_.append(piece.data(), static_cast<std::size_t>(got));
    }
    const std::string start = "http://127.0.0.1:";
    const std::size_t at = said_.find(start);
    if (at != std::string::npos) port_ = std::atoi(said_.c_str() + at + start.size());
  }
  BenchProcess(const BenchProcess&) = delete;
  BenchProcess& operator=(const BenchProcess&) = delete;
  ~BenchProcess() {
    kill();
    if (words_ >= 0) ::close(words_);
  }

  [[nodiscard]] int port() const { return port_; }  // 0: it did not begin
  [[nodiscard]] const std::string& said() const { return said_; }
  [[nodiscard]] pid_t id() const { return child_; }

  void kill() {
    if (child_ <= 0) return;
    ::kill(child_, SIGKILL);
    ::waitpid(child_, nullptr, 0);
    child_ = -1;
  }
  // As Ctrl-C does; its exit status, -1 when it does not end within 15 s.
  int end() {
    ::kill(child_, SIGINT);
    for (int i = 0; i < 150; ++i) {
      int status = 0;
      if (::waitpid(child_, &status, WNOHANG) == child_) {
        child_ = -1;
        return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(100));
    }
    return -1;
  }

 private:
  pid_t child_ = -1;
  int words_ = -1;
  int port_ = 0;
  std::string said_;
};

}  // namespace jigtrue::test
