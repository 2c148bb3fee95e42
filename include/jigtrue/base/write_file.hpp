// Files appear whole or not at all: each is written beside its place, flushed, then renamed.
#pragma once
#include "jigtrue/base/read_file.hpp"  // read_text_file, the other half of the pair

#include <filesystem>
#include <string>
#include <vector>

namespace jigtrue {

struct FileContent {
  std::filesystem::path path;
  std::string bytes;
};

// Writes a set that belongs together: all are written beside their places first, and only when every one of them is
// safely on disk are they renamed. On failure nothing that stood there before has changed and no temporary file is
// left. Killed at any point, it leaves the first file whole, old or new, and beside it only files of the same set (some
// may be missing; temporary files stay). Of processes that write the same set at once, one has all files in the end. A
// symbolic link as the target is replaced by the file it names being rewritten (the link stays a link). Throws
// InputError naming the path and what to do (folder missing and cannot be made, read-only, disk full, is a folder).
void write_files(const std::vector<FileContent>& files);

// Makes the output folder (parents too) if it is not there. Throws InputError if it is a file or cannot be made or
// written.
void prepare_folder(const std::filesystem::path& folder);

}  // namespace jigtrue
