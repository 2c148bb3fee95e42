#include "jigtrue/base/write_file.hpp"

#include "jigtrue/base/error.hpp"

#include <chrono>
#include <cstdio>
#include <fcntl.h>
#include <memory>
#include <optional>
#include <set>
#include <sys/file.h>
#include <sys/stat.h>
#include <thread>
#include <unistd.h>

#include "base/file_descriptor.hpp"

namespace jigtrue {
namespace {

namespace fs = std::filesystem;

fs::path folder_of(const fs::path& file) { return file.has_parent_path() ? file.parent_path() : fs::path("."); }

std::optional<struct stat> status_of(const fs::path& path) {
  struct stat status = {};
  if (::stat(path.c_str(), &status) == 0) return status;
  if (errno == ENOENT) return std::nullopt;
  throw system_input_error(path, "cannot be written", errno);
}

// The file that a symbolic link names in the end, whether it exists yet or not.
fs::path followed(const fs::path& named) {
  constexpr int longest_chain = 40;  // as in the kernel
  fs::path path = named;
  for (int step = 0; step < longest_chain; ++step) {
    std::error_code error;
    const fs::path next = fs::read_symlink(path, error);
    if (error) return path;
    path = folder_of(path) / next;
  }
  throw system_input_error(named, "cannot be written", ELOOP);
}

// Folders made on the way, removed again (where still empty) unless kept.
class NewFolders {
 public:
  NewFolders() = default;
  NewFolders(const NewFolders&) = delete;
  NewFolders& operator=(const NewFolders&) = delete;
  ~NewFolders() {
    for (; !made_.empty(); made_.pop_back()) ::rmdir(made_.back().c_str());
  }

  void make(const fs::path& folder) {
    fs::path part;
    for (const fs::path& name : folder) {
      part /= name;
      if (::mkdir(part.c_str(), 0777) == 0) {
        made_.push_back(part);
      } else if (const int error = errno; !is_folder(part)) {
        if (error == EEXIST)
          throw input_error(part.string(), "is a file where a folder is needed", "choose another place");
        throw system_input_error(part, "this folder cannot be made", error);
      }
    }
  }
  void keep() { made_.clear(); }

 private:
  static bool is_folder(const fs::path& path) {
    struct stat status = {};
    return ::stat(path.c_str(), &status) == 0 && S_ISDIR(status.st_mode);
  }
  std::vector<fs::path> made_;
};

bool allowed(const fs::path& path, int access) { return ::faccessat(AT_FDCWD, path.c_str(), access, AT_EACCESS) == 0; }

void require_writable(const fs::path& folder) {
  if (!allowed(folder, W_OK | X_OK)) throw system_input_error(folder, "cannot be written into", errno);
}

// A name beside the target that no one else has, made by `create`, which returns false with errno set.
template <class Create>
fs::path make_unique_beside(const fs::path& target, const Create& create) {
  // the longest name that a folder may hold could be the target's own, so the temporary one does not build on it
  const std::string stem = ".jigtrue-" + std::to_string(::getpid()) + "-";
  constexpr int attempts = 100000;
  for (int number = 0; number < attempts; ++number) {
    fs::path name = folder_of(target) / (stem + std::to_string(number) + ".tmp");
    if (create(name)) return name;
    if (errno != EEXIST) return {};
  }
  return {};
}

void write_all(const fs::path& target, int descriptor, const std::string& bytes) {
  std::size_t done = 0;
  while (done < bytes.size()) {
    const ssize_t put = ::write(descriptor, bytes.data() + done, bytes.size() - done);
    if (put < 0 && errno != EINTR) throw system_input_error(target, "cannot be written", errno);
    if (put > 0) done += static_cast<std::size_t>(put);
  }
}

// One file on its way: its new content beside the target, its old content kept until the whole set is in place.
// What is still unfinished when it goes out of scope is undone.
class Replacement {
 public:
  Replacement(fs::path named, fs::path target) : named_(std::move(named)), target_(std::move(target)) {}
  Replacement(const Replacement&) = delete;
  Replacement& operator=(const Replacement&) = delete;
  ~Replacement() {
    if (!temporary_.empty()) ::unlink(temporary_.c_str());
    // Where the old content cannot be put back, its spare name is the only one that it has: it stays.
    const bool in_place = kept_ || backup_.empty() || ::rename(backup_.c_str(), target_.c_str()) == 0;
    // Two links to one file: renaming one over the other does nothing, so the spare name goes in any case.
    if (in_place && !backup_.empty()) ::unlink(backup_.c_str());
    if (!kept_ && backup_.empty() && created_) ::unlink(target_.c_str());
  }

  // Writes the new content beside the target, down to the disk.
  void stage(const std::string& bytes) {
    const std::optional<struct stat> old = status_of(target_);
    if (old) check_replaceable(*old);
    existed_ = old.has_value();
    int opened = -1;
    temporary_ = make_unique_beside(target_, [&](const fs::path& name) {
      opened = ::open(name.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0666);
      return opened >= 0;
    });
    if (temporary_.empty()) throw system_input_error(named_, "cannot be written", errno);
    FileDescriptor descriptor(opened);
    write_all(named_, descriptor.get(), bytes);
    if (old && ::fchmod(descriptor.get(), old->st_mode & 07777) != 0) fail(errno);
    if (::fsync(descriptor.get()) != 0) fail(errno);
    if (const int error = descriptor.close()) fail(error);
  }

  // Another run may have put its file there meanwhile.
  void look_again() { existed_ = status_of(target_).has_value(); }

  // Takes the old file out of sight, so that nothing stands beside a newer part of the set that does not belong to it.
  void step_aside() {
    if (!existed_ || !backup_.empty()) return;
    backup_ = make_unique_beside(target_, [&](const fs::path& name) { return rename_to_spare(name); });
    if (backup_.empty()) fail(errno);
  }

  // Keeps the old content at hand under a second name, while the file stays in sight.
  void back_up() {
    if (!existed_) return;
    backup_ =
        make_unique_beside(target_, [&](const fs::path& name) { return ::link(target_.c_str(), name.c_str()) == 0; });
    // some file systems know no second name for a file
    if (backup_.empty()) step_aside();
  }

  // Puts the new content in place.
  void commit() {
    if (::rename(temporary_.c_str(), target_.c_str()) != 0) fail(errno);
    temporary_.clear();
    created_ = !existed_;
  }

  void keep() { kept_ = true; }
  [[nodiscard]] const fs::path& target() const { return target_; }

 private:
  [[noreturn]] void fail(int error) const { throw system_input_error(named_, "cannot be written", error); }

  void check_replaceable(const struct stat& old) const {
    if (S_ISDIR(old.st_mode)) throw input_error(named_.string(), "is a folder, not a file", "choose another file name");
    if (!S_ISREG(old.st_mode))
      throw input_error(named_.string(), "is not an ordinary file", "choose another file name");
    // gone by now: another run is putting its own set in place
    if (!allowed(target_, W_OK) && errno != ENOENT) fail(errno);
  }

  // The name is taken by an empty file first: no other writer can then have it, too.
  bool rename_to_spare(const fs::path& name) const {
    const FileDescriptor taken(::open(name.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600));
    if (!taken.ok()) return false;
    if (::rename(target_.c_str(), name.c_str()) == 0) return true;
    const int error = errno;
    ::unlink(name.c_str());
    errno = error;
    return false;
  }

  fs::path named_;   // as the user wrote it, for messages
  fs::path target_;  // behind all symbolic links
  fs::path temporary_;
  fs::path backup_;
  bool existed_ = false;
  bool created_ = false;
  bool kept_ = false;
};

// While a set is put in place its folders are ours: another jigtrue that writes there waits, so that in the end all
// files are of one run. Where a file system has no locks it goes without.
class FolderLocks {
 public:
  explicit FolderLocks(const std::set<fs::path>& folders) {
    for (const fs::path& folder : folders) {  // in their order, so that no two wait for one another
      FileDescriptor descriptor(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
      if (descriptor.ok()) lock(folder, descriptor.get());
      held_.push_back(std::make_unique<FileDescriptor>(descriptor.release()));
    }
  }

 private:
  static void lock(const fs::path& folder, int descriptor) {
    constexpr int attempts = 1000;
    for (int attempt = 0; ::flock(descriptor, LOCK_EX | LOCK_NB) != 0; ++attempt) {
      if (errno != EWOULDBLOCK && errno != EINTR) return;
      if (attempt == attempts)
        throw input_error(folder.string(), "another run has been writing there for ten seconds", "try again");
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
  }

  std::vector<std::unique_ptr<FileDescriptor>> held_;
};

// A renamed file is safe from a power cut only once its folder is on disk too. Not every file system can do it: no
// error.
void flush_folder(const fs::path& folder) {
  const FileDescriptor descriptor(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (descriptor.ok()) ::fsync(descriptor.get());
}

// One spelling for one file. A path that cannot be looked up stays as it is: writing to it will tell why.
fs::path canonical_or_as_given(const fs::path& path) {
  std::error_code error;
  const fs::path canonical = fs::weakly_canonical(path, error);
  return error ? path : canonical;
}

std::vector<fs::path> followed_targets(const std::vector<FileContent>& files) {
  std::vector<fs::path> targets;
  std::set<fs::path> seen;
  for (const FileContent& file : files) {
    if (!file.path.has_filename()) throw input_error(file.path.string(), "is not a file name", "name a file");
    targets.push_back(followed(file.path));
    if (!seen.insert(canonical_or_as_given(targets.back())).second) {
      throw input_error(file.path.string(), "two results would be written to this one file",
                        "name two different files");
    }
  }
  return targets;
}

}  // namespace

void write_files(const std::vector<FileContent>& files) {
  const std::vector<fs::path> targets = followed_targets(files);
  NewFolders new_folders;
  // Declared in this order and so undone in the other: files first, under the locks, then the folders, when they are
  // empty again.
  std::optional<FolderLocks> locks;
  std::vector<std::unique_ptr<Replacement>> replacements;
  for (std::size_t i = 0; i < files.size(); ++i) {
    new_folders.make(folder_of(targets[i]));
    replacements.push_back(std::make_unique<Replacement>(files[i].path, targets[i]));
    replacements.back()->stage(files[i].bytes);
  }
  std::set<fs::path> folders;
  for (const fs::path& target : targets) folders.insert(canonical_or_as_given(folder_of(target)));
  locks.emplace(folders);
  for (const auto& replacement : replacements) replacement->look_again();
  // Wherever this is cut short (a kill, a power cut), the first file is whole, and what stands beside it is of its set.
  for (std::size_t i = 1; i < replacements.size(); ++i) replacements[i]->step_aside();
  // a single rename either happens or leaves its file alone and needs no way back
  if (replacements.size() > 1) replacements.front()->back_up();
  for (const auto& replacement : replacements) replacement->commit();
  for (const auto& replacement : replacements) replacement->keep();
  new_folders.keep();
  for (const fs::path& folder : folders) flush_folder(folder);
}

void prepare_folder(const fs::path& folder) {
  if (folder.empty()) throw input_error("output folder", "has no name", "name a folder");
  NewFolders new_folders;
  new_folders.make(folder);
  require_writable(folder);
  new_folders.keep();
}

}  // namespace jigtrue
