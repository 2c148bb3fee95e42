#include "cli/photo_of_report.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/image/photo_digest.hpp"
#include "jigtrue/image/read_photo.hpp"

#include <filesystem>
#include <system_error>

namespace jigtrue::cli {

Paths photo_places(const CheckResult& result, const std::string& report) {
  const std::filesystem::path named = result.photo_file;
  if (named.empty()) return {};
  const std::filesystem::path beside = std::filesystem::path(report).parent_path();
  return {named, beside / named, beside / named.filename()};
}

std::optional<Photo> photo_of(const CheckResult& result, const std::string& report) {
  if (result.photo_digest.empty()) return std::nullopt;
  for (const std::filesystem::path& file : photo_places(result, report)) {
    std::error_code none;
    if (!std::filesystem::exists(file, none)) continue;
    try {
      Photo photo = read_photo(file.string());
      if (photo_digest(photo) == result.photo_digest) return photo;
    } catch (const InputError&) {
      // another file by now: the next place may have the photo
    }
  }
  return std::nullopt;
}

}  // namespace jigtrue::cli
