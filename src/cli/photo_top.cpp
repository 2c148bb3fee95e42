#include "cli/photo_top.hpp"

#include "jigtrue/base/error.hpp"

namespace jigtrue::cli {

void add_photo_top(CLI::App& command, std::string& value, const std::string& help) {
  command.add_option("--photo-top", value, help);
}

std::optional<PhotoTop> photo_top(const std::string& value) {
  if (value.empty()) return std::nullopt;
  if (value == "back") return PhotoTop::back;
  if (value == "front") return PhotoTop::front;
  if (value == "left") return PhotoTop::left;
  if (value == "right") return PhotoTop::right;
  throw input_error("--photo-top", "\"" + value + "\" is no side of the bed", "give back, front, left or right");
}

}  // namespace jigtrue::cli
