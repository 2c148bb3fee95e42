#include "jigtrue/report/kept_art.hpp"

#include "jigtrue/layout/layout_svg.hpp"

#include <memory>

#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

std::shared_ptr<const std::vector<Pass>> passes_of(const std::string& svg, const std::string& file_name) {
  const Artwork artwork = read_artwork(svg, file_name + ": artwork");
  return std::make_shared<const std::vector<Pass>>(
      std::vector<Pass>{{"", moved(artwork.shapes, -artwork.page_mm / 2.0), std::nullopt}});
}

}  // namespace

nlohmann::ordered_json kept_art_json(const DesignArt& art) {
  if (art.empty()) return nullptr;
  nlohmann::ordered_json out;
  std::size_t bytes = 0;
  const auto text = [&bytes](const std::vector<Pass>& passes) {
    std::string svg = artwork_svg(passes);
    bytes += svg.size();
    return svg;
  };
  if (art.common) out["common"] = text(*art.common);
  out["slots"] = nlohmann::ordered_json::object();
  for (const auto& [id, passes] : art.own) {
    if (passes) out["slots"][id] = text(*passes);
    if (bytes > kMostKeptArt_bytes) break;
  }
  return bytes > kMostKeptArt_bytes ? nlohmann::ordered_json(nullptr) : out;
}

DesignArt read_kept_art(const JsonField& root, const std::string& file_name) {
  DesignArt art;
  const auto kept = root.given("artwork");
  if (!kept) return art;
  if (const auto common = kept->given("common")) art.common = passes_of(common->text(), file_name);
  const auto own = kept->given("slots");
  if (!own) return art;
  for (const std::string& id : own->keys()) art.own[id] = passes_of(own->at(id).text(), file_name);
  return art;
}

}  // namespace jigtrue
