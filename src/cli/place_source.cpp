#include "cli/place_source.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/layout/fit_artwork.hpp"
#include "jigtrue/layout/name_list.hpp"

#include <algorithm>
#include <filesystem>

namespace jigtrue::cli {
namespace {

Artwork read_drawing(const std::filesystem::path& file) { return read_artwork(read_svg_file(file), file.string()); }

JobPass pass_argument(const std::string& text) {
  const std::size_t equals = text.find('=');
  if (equals == std::string::npos || equals == 0 || equals + 1 == text.size())
    throw input_error("--pass " + text, "is not NAME=DRAWING", "write it like --pass fill=fill.svg");
  return {text.substr(0, equals), text.substr(equals + 1), std::nullopt};
}

void refuse_unknown_slots(const std::vector<NameRow>& rows, const CheckResult& result, const std::string& file) {
  for (const NameRow& row : rows) {
    const bool known = std::any_of(result.slots.begin(), result.slots.end(),
                                   [&](const SlotResult& slot) { return slot.id == row.slot_id; });
    if (!known)
      throw input_error(file + ": line " + std::to_string(row.line), "the report has no slot " + row.slot_id,
                        "mend the id, or take the row out");
  }
}

const PassTiming* names_timing(const Job& job) {
  for (const JobPass& pass : job.passes)
    if (pass.name == "names" && pass.timing) return &*pass.timing;
  return nullptr;
}

}  // namespace

void refuse_mixture(const PlaceArguments& arguments) {
  const int drawings = int{!arguments.design.empty()} + int{!arguments.passes.empty()} + int{!arguments.job.empty()};
  if (drawings > 1)
    throw input_error("--design, --pass, --job", "more than one is given", "give the drawings in one of these ways");
  const bool art = drawings == 1 || !arguments.names.empty();
  if (!arguments.layout.empty() && (art || arguments.wrap))
    throw input_error("--layout", "a layout of your own brings its artwork along",
                      "leave out the other artwork and --wrap");
  if (arguments.proof) {
    if (art || !arguments.layout.empty() || arguments.wrap || arguments.strict)
      throw input_error("--proof", "a proof is the frame of the design that the report was made with",
                        "leave out artwork, --wrap and --strict");
    return;
  }
  if (arguments.layout.empty() && !art)
    throw input_error("place", "there is nothing to place",
                      "give --design, --pass, --job, --names, --layout or --proof");
  if (arguments.names.empty() != arguments.font.empty() && !arguments.font.empty())
    throw input_error("--font", "it is given without --names", "give the list of names, too");
  if (arguments.text_height_mm && !(*arguments.text_height_mm >= 0.1 && *arguments.text_height_mm <= 500.0))
    throw input_error("--text-height", "is not a height from 0.1 to 500 mm", "give the letters' height in mm");
}

Source read_source(const PlaceArguments& arguments) {
  Source source;
  std::filesystem::path folder;
  if (!arguments.job.empty()) {
    source.job = read_job(read_text_file(arguments.job), arguments.job);
    folder = std::filesystem::path(arguments.job).parent_path();
  }
  if (!arguments.design.empty()) source.job.passes = {{"", arguments.design, std::nullopt}};
  for (const std::string& text : arguments.passes) {
    source.job.passes.push_back(pass_argument(text));
    const JobPass& last = source.job.passes.back();
    const auto same = [&](const JobPass& each) { return each.name == last.name; };
    if (std::count_if(source.job.passes.begin(), source.job.passes.end(), same) > 1)
      throw input_error("--pass " + text, "its name is taken", "give every pass a name of its own");
  }
  std::vector<JobPass> drawn;
  std::vector<Artwork> artworks;
  for (const JobPass& pass : source.job.passes) {
    if (pass.artwork_file.empty()) continue;
    source.files.push_back(folder / pass.artwork_file);
    artworks.push_back(read_drawing(source.files.back()));
    drawn.push_back(pass);
    source.notes.insert(source.notes.end(), artworks.back().notes.begin(), artworks.back().notes.end());
  }
  if (!drawn.empty()) source.common = passes_in_register(drawn, artworks);
  return source;
}

void add_names(const PlaceArguments& arguments, const CheckResult& result, Source& source, DesignArt& art) {
  const std::vector<NameRow> rows = read_name_list(read_text_file(arguments.names), arguments.names);
  refuse_unknown_slots(rows, result, arguments.names);
  for (const NameRow& row : rows) source.texts[row.slot_id] = row.text.empty() ? row.artwork_file : row.text;
  std::map<std::string, TextRoom> rooms;
  for (const SlotResult& slot : result.slots)
    if (const auto room = text_room(slot)) rooms.emplace(slot.id, *room);
  const bool texts = std::any_of(rows.begin(), rows.end(), [](const NameRow& row) { return !row.text.empty(); });
  if (texts && arguments.font.empty())
    throw input_error("--font", "the list holds texts, and no font is given", "give a .ttf or .otf file");
  if (texts) {
    const OutlineFont font(read_text_file(arguments.font), arguments.font);
    NameSetting setting =
        set_names(rows, font, rooms, arguments.text_height_mm, names_timing(source.job), arguments.names);
    art.own = std::move(setting.by_slot);
  }
  const std::filesystem::path folder = std::filesystem::path(arguments.names).parent_path();
  for (const NameRow& row : rows) {
    if (row.artwork_file.empty()) continue;
    source.files.push_back(folder / row.artwork_file);
    art.own[row.slot_id] = common_art(read_drawing(source.files.back())).common;
  }
  // a list speaks for its slots alone; without a drawing for the others they stay bare
  if (art.own.empty() && art.common == nullptr)
    throw input_error(arguments.names, "none of its rows is for a slot that was found",
                      "check the ids in the column slot");
}

}  // namespace jigtrue::cli
