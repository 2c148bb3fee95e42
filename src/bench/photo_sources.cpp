#include "jigtrue/bench/photo_sources.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cctype>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstring>
#include <fcntl.h>
#include <map>
#include <optional>
#include <poll.h>
#include <spawn.h>
#include <string_view>
#include <sys/inotify.h>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>
#include <vector>

#include "bench/descriptor.hpp"

namespace jigtrue {
namespace {

using bench::Descriptor;
using std::chrono::milliseconds;
using SnapClock = std::chrono::steady_clock;

constexpr std::size_t kMostPhotoBytes = std::size_t{256} << 20;
constexpr milliseconds kQuiet{400};        // after the last write
constexpr milliseconds kForTheRest{8000};  // for a file that is still cut short
constexpr milliseconds kStep{100};

bool photo_name(const std::string& name) {
  if (name.empty() || name.front() == '.') return false;
  std::string end = std::filesystem::path(name).extension().string();
  for (char& c : end) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  static constexpr std::array<const char*, 7> kEnds = {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif"};
  return std::find(kEnds.begin(), kEnds.end(), end) != kEnds.end();
}

std::string bytes_of(const std::filesystem::path& file) {
  const FileBytes bytes = read_file_bytes(file, kMostPhotoBytes);
  return {reinterpret_cast<const char*>(bytes.data.get()), bytes.size};
}

std::string shell_words(const std::string& command) {
  const std::size_t place = command.find("{}");
  if (place == std::string::npos) return command + " \"$1\"";
  return command.substr(0, place) + "\"$1\"" + command.substr(place + 2);
}

class SnapFolder {
 public:
  SnapFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "jigtrue-snap-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr)
      throw input_error(name, std::string("cannot be made: ") + std::strerror(errno),
                        "make room in the temporary folder");
    path_ = name;
  }
  SnapFolder(const SnapFolder&) = delete;
  SnapFolder& operator=(const SnapFolder&) = delete;
  ~SnapFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  [[nodiscard]] std::filesystem::path photo() const { return path_ / "photo.jpg"; }

 private:
  std::filesystem::path path_;
};

std::string last_line(std::string text) {
  while (!text.empty() && (text.back() == '\n' || text.back() == '\r' || text.back() == ' ')) text.pop_back();
  const std::size_t start = text.find_last_of("\n\r");
  return ascii_text(text.substr(start == std::string::npos ? 0 : start + 1)).substr(0, 200);
}

// Starts the shell in a group of its own, so that all of it can be ended; its words go to `words`.
pid_t started(const std::string& command, const std::string& file, int words) {
  const std::string shell_command = shell_words(command);
  std::array<const char*, 6> arguments = {"sh", "-c", shell_command.c_str(), "sh", file.c_str(), nullptr};
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
  posix_spawn_file_actions_adddup2(&actions, words, 1);
  posix_spawn_file_actions_adddup2(&actions, words, 2);
  posix_spawnattr_t attributes;
  posix_spawnattr_init(&attributes);
  sigset_t none;
  sigemptyset(&none);
  posix_spawnattr_setsigmask(&attributes, &none);
  posix_spawnattr_setpgroup(&attributes, 0);
  posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK);
  pid_t child = -1;
  const int status =
      posix_spawn(&child, "/bin/sh", &actions, &attributes, const_cast<char**>(arguments.data()), environ);
  posix_spawn_file_actions_destroy(&actions);
  posix_spawnattr_destroy(&attributes);
  if (status != 0) throw input_error("--snap", std::string("the command cannot be run: ") + std::strerror(status));
  return child;
}

// Ends with the command, or at the time's end: then nothing.
std::optional<int> ended(pid_t child, int words, double most_seconds, std::string& said) {
  const SnapClock::time_point last = SnapClock::now() + milliseconds(static_cast<int>(most_seconds * 1000.0));
  for (;;) {
    pollfd one{words, POLLIN, 0};
    std::array<char, 4096> piece{};
    if (::poll(&one, 1, 20) > 0) {
      const ssize_t got = ::read(words, piece.data(), piece.size());
      if (got > 0) said.append(piece.data(), static_cast<std::size_t>(got));
      if (said.size() > 65536) said.erase(0, said.size() - 4096);
      if (got == 0) std::this_thread::sleep_for(milliseconds(5));
    }
    int status = 0;
    if (::waitpid(child, &status, WNOHANG) == child) return status;
    if (SnapClock::now() < last) continue;
    ::kill(-child, SIGKILL);
    ::waitpid(child, &status, 0);
    return std::nullopt;
  }
}

}  // namespace

bool looks_whole(const std::string& bytes) {
  const std::string_view all = bytes;
  if (all.starts_with("\xFF\xD8")) {
    // some cameras write more behind it
    const std::size_t end = all.rfind("\xFF\xD9");
    return end != std::string_view::npos && end > 2;
  }
  if (all.starts_with("\x89PNG")) return all.find("IEND") != std::string_view::npos;
  return !all.empty();
}

std::string snap_photo(const std::string& command, double most_seconds) {
  const SnapFolder folder;
  std::array<int, 2> pipe{};
  if (::pipe2(pipe.data(), O_CLOEXEC | O_NONBLOCK) != 0)
    throw input_error("--snap", std::string("the command cannot be run: ") + std::strerror(errno));
  const Descriptor from(pipe[0]);
  Descriptor to(pipe[1]);
  const pid_t child = started(command, folder.photo().string(), to.get());
  to.close();
  std::string said;
  const std::optional<int> status = ended(child, from.get(), most_seconds, said);
  const std::string words = said.empty() ? std::string() : " (\"" + last_line(said) + "\")";
  if (!status)
    throw input_error("--snap", "the camera's command did not end within " + fixed_text(most_seconds, 0) + " s" + words,
                      "look at the camera, and try the command in a terminal");
  if (!WIFEXITED(*status) || WEXITSTATUS(*status) != 0)
    throw input_error("--snap", "the camera's command failed" + words, "look at the camera, and try it in a terminal");
  if (!std::filesystem::exists(folder.photo()))
    throw input_error("--snap", "the camera's command wrote no photo to the path that it was given" + words,
                      "the path is its last argument, or stands where the command has {}");
  return bytes_of(folder.photo());
}

class FolderWatch::Watching {
 public:
  Watching(std::filesystem::path folder, Callbacks callbacks)
      : folder_(std::move(folder)),
        callbacks_(std::move(callbacks)),
        notices_(::inotify_init1(IN_NONBLOCK | IN_CLOEXEC)) {
    if (notices_.get() < 0 || ::inotify_add_watch(notices_.get(), folder_.c_str(),
                                                  IN_CREATE | IN_MODIFY | IN_CLOSE_WRITE | IN_MOVED_TO | IN_DELETE |
                                                      IN_MOVED_FROM | IN_ONLYDIR) < 0)
      throw input_error(folder_.string(), std::string("cannot be watched: ") + std::strerror(errno),
                        "give --watch a folder that is there and may be read");
    thread_ = std::thread([this] { run(); });
  }
  Watching(const Watching&) = delete;
  Watching& operator=(const Watching&) = delete;
  ~Watching() {
    ended_ = true;
    thread_.join();
  }

 private:
  struct Candidate {
    SnapClock::time_point first;
    SnapClock::time_point touched;
  };

  void run() {
    while (!ended_) {
      pollfd one{notices_.get(), POLLIN, 0};
      if (::poll(&one, 1, static_cast<int>(kStep.count())) > 0) read_notices();
      look();
    }
  }

  void read_notices() {
    alignas(inotify_event) std::array<char, 16384> buffer{};
    for (;;) {
      const ssize_t got = ::read(notices_.get(), buffer.data(), buffer.size());
      if (got <= 0) return;
      for (ssize_t at = 0; at < got;) {
        inotify_event event{};
        std::memcpy(&event, buffer.data() + at, sizeof event);
        const std::string name = event.len > 0 ? std::string(buffer.data() + at + sizeof event) : std::string();
        at += static_cast<ssize_t>(sizeof event + event.len);
        notice(name, event.mask);
      }
    }
  }

  void notice(const std::string& name, std::uint32_t what) {
    if (!photo_name(name)) return;
    if ((what & (IN_DELETE | IN_MOVED_FROM)) != 0) {
      waiting_.erase(name);
      return;
    }
    const SnapClock::time_point now = SnapClock::now();
    waiting_.try_emplace(name, Candidate{now, now}).first->second.touched = now;
  }

  void look() {
    const SnapClock::time_point now = SnapClock::now();
    std::vector<std::string> quiet;
    for (const auto& [name, candidate] : waiting_)
      if (now - candidate.touched >= kQuiet) quiet.push_back(name);
    for (const std::string& name : quiet) take(name, now);
  }

  void take(const std::string& name, SnapClock::time_point now) {
    const Candidate candidate = waiting_.at(name);
    try {
      std::string bytes = bytes_of(folder_ / name);
      // still coming: a pause in a slow copy
      if (!callbacks_.whole(bytes) && now - candidate.touched < kForTheRest) return;
      waiting_.erase(name);
      callbacks_.photo(name, std::move(bytes));
    } catch (const InputError& error) {
      if (now - candidate.touched < kForTheRest && std::filesystem::exists(folder_ / name)) return;
      waiting_.erase(name);
      callbacks_.trouble(name, error.what());
    }
  }

  std::filesystem::path folder_;
  Callbacks callbacks_;
  Descriptor notices_;
  std::map<std::string, Candidate> waiting_;
  std::atomic<bool> ended_ = false;
  std::thread thread_;
};

FolderWatch::FolderWatch(const std::filesystem::path& folder, Callbacks callbacks)
    : watching_(std::make_unique<Watching>(folder, std::move(callbacks))) {}
FolderWatch::~FolderWatch() = default;

}  // namespace jigtrue
