#include "bench/seen_marks.hpp"

#include "jigtrue/base/text.hpp"

#include <nlohmann/json.hpp>

namespace jigtrue::bench {
namespace {

std::string place_words(const nlohmann::json& from_blank) {
  if (!from_blank.is_object() || !from_blank["across"].is_number()) return {};
  std::string out = ", " + signed_text(from_blank["across"], 2) + " mm across";
  if (from_blank["along"].is_number()) out += ", " + signed_text(from_blank["along"], 2) + " mm along";
  return out + " from where it belongs";
}

}  // namespace

Seen seen_after_the_burn(const Book& book, std::int64_t load) {
  Seen seen;
  const nlohmann::json all = nlohmann::json::parse(book.file(load, "inspection.json").value_or("{}"), nullptr, false);
  if (!all.is_object() || !all.contains("slots")) return seen;
  seen.headline = all.value("headline", "");
  for (const nlohmann::json& slot : all["slots"]) {
    std::string words = slot.value("state", "") + place_words(slot.value("from_blank_mm", nlohmann::json()));
    for (const nlohmann::json& reason : slot["reasons"]) words += "; " + reason.get<std::string>();
    seen.slots[slot.value("id", "")] = words;
    if (slot.value("wants_another_pass", false)) seen.again += (seen.again.empty() ? "" : ", ") + slot.value("id", "");
  }
  return seen;
}

}  // namespace jigtrue::bench
