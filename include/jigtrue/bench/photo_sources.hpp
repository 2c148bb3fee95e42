// Where photos come from besides the page: a folder that a camera or a phone's own program writes into, and a command
// that takes one.
#pragma once
#include <filesystem>
#include <functional>
#include <memory>
#include <string>

namespace jigtrue {

// Watches a folder from now on (inotify). A file counts once nobody has written to it for a while; one that is still
// cut short then (`whole` says no) is waited for, up to some seconds. Hidden files and names that no photo has are
// passed over. What lay there before is old and not taken.
class FolderWatch {
 public:
  struct Callbacks {
    std::function<bool(const std::string& bytes)> whole;
    std::function<void(const std::string& name, std::string bytes)> photo;
    std::function<void(const std::string& name, const std::string& text)> trouble;  // a file that cannot be read
  };
  // The callbacks run in a thread of its own. Throws InputError: there is no such folder, it cannot be watched.
  FolderWatch(const std::filesystem::path& folder, Callbacks callbacks);
  FolderWatch(const FolderWatch&) = delete;
  FolderWatch& operator=(const FolderWatch&) = delete;
  ~FolderWatch();

 private:
  class Watching;
  std::unique_ptr<Watching> watching_;
};

// Whether the picture's file ends as its kind must: a JPEG with its end marker, a PNG with its last chunk; other kinds
// are taken at their word.
[[nodiscard]] bool looks_whole(const std::string& bytes);

// Runs the command in a shell, with the path of a file that is not there yet as its last argument, or wherever the
// command has {}, and returns what it wrote there. Throws InputError: it failed (its last words are told), took longer
// than `most_seconds`, wrote nothing.
[[nodiscard]] std::string snap_photo(const std::string& command, double most_seconds = 30.0);

}  // namespace jigtrue
