// The page for people beside a JSON file.
#pragma once
#include <filesystem>
#include <string>

namespace jigtrue::cli {

// "lens.json" -> "lens.html". Throws InputError when the output itself is named so.
[[nodiscard]] std::filesystem::path page_beside(const std::string& output);

}  // namespace jigtrue::cli
