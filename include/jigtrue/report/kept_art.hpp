// The artwork of a load, kept in report.json and placement.json so that the burned load can be compared with it.
#pragma once
#include "jigtrue/json/json_file.hpp"
#include "jigtrue/layout/design_art.hpp"

namespace jigtrue {

// {"common": drawing, "slots": {id: drawing}}, each an SVG text whose page's middle is the design's centre; null
// without artwork, and where it is larger than kMostKeptArt_bytes altogether.
inline constexpr std::size_t kMostKeptArt_bytes = 4u << 20;
[[nodiscard]] nlohmann::ordered_json kept_art_json(const DesignArt& art);

// From the file's "artwork"; empty where it has none. Throws InputError as read_artwork does.
[[nodiscard]] DesignArt read_kept_art(const JsonField& root, const std::string& file_name);

}  // namespace jigtrue
