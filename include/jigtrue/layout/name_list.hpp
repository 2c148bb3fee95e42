// A list of what each slot is to carry: names on pens.
#pragma once
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/layout/text_outlines.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <map>
#include <string>
#include <vector>

namespace jigtrue {

// One row: a text, or a drawing's file, for one slot.
struct NameRow {
  std::string slot_id;
  std::string text;
  std::string artwork_file;
  std::size_t line = 0;
};

// CSV by RFC 4180 with a head row: columns slot, and text or artwork or both, in any order; comma or semicolon. Throws
// InputError naming the line: no such columns, a slot given twice, a row with both or neither, more than 2000 rows.
[[nodiscard]] std::vector<NameRow> read_name_list(const std::string& csv_text, const std::string& file_name);

// The column "text" alone, in the file's order, whatever other columns there are; rows without text are passed over.
// Throws InputError as above.
[[nodiscard]] std::vector<std::string> read_texts(const std::string& csv_text, const std::string& file_name);

// What the letters may take on one slot.
struct TextRoom {
  double width_mm = 0.0;
  double height_mm = 0.0;
};

struct NameSetting {
  std::map<std::string, std::shared_ptr<const std::vector<Pass>>> by_slot;
  double height_mm = 0.0;  // of the tallest and the deepest letter together, the same on every slot
};

// Sets every text in one size on one base line, as tall as the lowest room allows or `height_mm` if that is given, and
// centres it on its slot. Throws InputError naming slot and text where a text is wider or taller than its room, with
// the height that would fit. Rows of slots without room are passed over.
[[nodiscard]] NameSetting set_names(const std::vector<NameRow>& rows, const OutlineFont& font,
                                    const std::map<std::string, TextRoom>& rooms, std::optional<double> height_mm,
                                    const PassTiming* timing, const std::string& file_name);

}  // namespace jigtrue
