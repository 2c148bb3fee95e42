// JSON text to a value, in bounded time and memory. Private to this layer.
#pragma once
#include "jigtrue/json/json_file.hpp"

#include <cstddef>
#include <string>

#include <nlohmann/json.hpp>

namespace jigtrue::json_detail {

inline constexpr std::size_t kMaxDepth = 32;  // a report needs six

// Throws InputError with the line and column, or with the path of the field. A field that is given twice is refused:
// plain JSON would let the last one win in silence.
[[nodiscard]] nlohmann::ordered_json parse_json(const std::string& text, const std::string& file, const JsonForm& form);

// For messages: a value as it stands in the file, on one line, cut to a readable length; "an object" and "a list" for
// those.
[[nodiscard]] std::string shown(const nlohmann::ordered_json& value);
// For messages: path and a field's name, "slots[2].centre_mm"; a name that is no plain word is quoted.
[[nodiscard]] std::string joined(const std::string& path, const std::string& key);
[[nodiscard]] std::string joined(const std::string& path, std::size_t index);

}  // namespace jigtrue::json_detail
