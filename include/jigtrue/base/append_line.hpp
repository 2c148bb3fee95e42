// One line more at the end of a file that only ever grows.
#pragma once
#include <filesystem>
#include <string>

namespace jigtrue {

// Appended by a single write at the file's end and flushed to the disk, so that several programs may append at once and
// a crash costs at most the last line. A last line that was left without its end is closed first. `line` holds no line
// break. Throws InputError naming the path: the folder is missing, no right to write, the disk is full.
void append_line(const std::filesystem::path& file, const std::string& line);

}  // namespace jigtrue
