#include "jigtrue/layout/name_list.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <cmath>
#include <set>

namespace jigtrue {
namespace {

constexpr std::size_t kMostRows = 2000;
constexpr std::size_t kMaxNameListBytes = 4u << 20;

struct CsvRow {
  std::vector<std::string> cells;
  std::size_t line = 0;
};

// RFC 4180 with either separator; the whole file is one pass.
std::vector<CsvRow> csv_rows(std::string_view text, const std::string& file) {
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  const std::string_view head = text.substr(0, text.find('\n'));
  const char separator =
      head.find(';') != std::string_view::npos && head.find(',') == std::string_view::npos ? ';' : ',';
  std::vector<CsvRow> rows;
  CsvRow row{{""}, 1};
  std::size_t line = 1;
  bool quoted = false;
  const auto finish = [&] {
    const bool blank = row.cells.size() == 1 && row.cells[0].empty();
    if (!blank) rows.push_back(std::move(row));
    if (rows.size() > kMostRows + 1) throw input_error(file, "holds more than 2000 rows", "split the list");
    row = CsvRow{{""}, line};
  };
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '\n') ++line;
    if (quoted) {
      const bool escaped = c == '"' && i + 1 < text.size() && text[i + 1] == '"';
      if (c != '"' || escaped) row.cells.back().push_back(c);
      if (escaped)
        ++i;
      else if (c == '"')
        quoted = false;
    } else if (c == '"' && row.cells.back().empty()) {
      quoted = true;
    } else if (c == separator) {
      row.cells.emplace_back();
    } else if (c == '\n') {
      finish();
    } else if (c != '\r') {
      row.cells.back().push_back(c);
    }
  }
  if (quoted) throw input_error(file, "a quote does not end", "close it");
  finish();
  return rows;
}

std::string stripped(const std::string& text) {
  const std::size_t first = text.find_first_not_of(" \t");
  return first == std::string::npos ? "" : text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

struct Columns {
  std::optional<std::size_t> slot;
  std::optional<std::size_t> text;
  std::optional<std::size_t> artwork;
};

Columns columns_of(const CsvRow& head, const std::string& file) {
  Columns columns;
  for (std::size_t i = 0; i < head.cells.size(); ++i) {
    const std::string name = stripped(head.cells[i]);
    if (name == "slot") columns.slot = i;
    if (name == "text") columns.text = i;
    if (name == "artwork") columns.artwork = i;
  }
  if (!columns.slot || (!columns.text && !columns.artwork))
    throw input_error(file, "its first line does not name the columns slot and text (or artwork)",
                      "start it with the line: slot,text");
  return columns;
}

std::string cell(const CsvRow& row, const std::optional<std::size_t>& column) {
  return column && *column < row.cells.size() ? stripped(row.cells[*column]) : std::string();
}

// One text at 1 em = 1 mm.
struct SetText {
  const NameRow* row;
  InkShape shape;
  InkBox box;
};

std::string named(const NameRow& row) { return "slot " + row.slot_id + " (\"" + row.text + "\")"; }

std::string tenth_below(double value) { return fixed_text(std::floor(value * 10.0) / 10.0, 1) + " mm"; }

InkShape scaled(InkShape shape, double scale, const Vector2d& middle) {
  const auto move = [&](Vector2d& p) { p = scale * (p - middle); };
  for (SubPath& path : shape.outline) {
    move(path.start);
    for (PathSegment& segment : path.segments) {
      move(segment.control_1);
      move(segment.control_2);
      move(segment.end);
    }
  }
  return shape;
}

}  // namespace

std::vector<NameRow> read_name_list(const std::string& csv_text, const std::string& file_name) {
  if (csv_text.size() > kMaxNameListBytes) throw input_error(file_name, "is larger than 4 MB", "give a plain list");
  const std::vector<CsvRow> rows = csv_rows(csv_text, file_name);
  if (rows.empty()) throw input_error(file_name, "is empty", "start it with the line: slot,text");
  const Columns columns = columns_of(rows.front(), file_name);
  std::vector<NameRow> out;
  std::set<std::string> seen;
  for (std::size_t i = 1; i < rows.size(); ++i) {
    NameRow row{cell(rows[i], columns.slot), cell(rows[i], columns.text), cell(rows[i], columns.artwork), rows[i].line};
    const std::string where = file_name + ": line " + std::to_string(row.line);
    if (row.slot_id.empty()) throw input_error(where, "names no slot", "give the slot's id in the column slot");
    if (!seen.insert(row.slot_id).second)
      throw input_error(where, "slot " + row.slot_id + " is listed twice", "keep one row for each slot");
    if (row.text.empty() == row.artwork_file.empty())
      throw input_error(
          where, "slot " + row.slot_id + " has " + (row.text.empty() ? "neither text nor artwork" : "text and artwork"),
          "give one of them, or take the row out");
    out.push_back(std::move(row));
  }
  return out;
}

std::vector<std::string> read_texts(const std::string& csv_text, const std::string& file_name) {
  if (csv_text.size() > kMaxNameListBytes) throw input_error(file_name, "is larger than 4 MB", "give a plain list");
  const std::vector<CsvRow> rows = csv_rows(csv_text, file_name);
  std::optional<std::size_t> column;
  for (std::size_t i = 0; !rows.empty() && i < rows.front().cells.size(); ++i)
    if (stripped(rows.front().cells[i]) == "text") column = i;
  if (!column) throw input_error(file_name, "its first line does not name the column text", "start it with: text");
  std::vector<std::string> texts;
  for (std::size_t i = 1; i < rows.size(); ++i)
    if (std::string text = cell(rows[i], column); !text.empty()) texts.push_back(std::move(text));
  return texts;
}

NameSetting set_names(const std::vector<NameRow>& rows, const OutlineFont& font,
                      const std::map<std::string, TextRoom>& rooms, std::optional<double> height_mm,
                      const PassTiming* timing, const std::string& file_name) {
  std::vector<SetText> texts;
  InkBox common;
  double room_mm = 1e9;
  for (const NameRow& row : rows) {
    const auto room = rooms.find(row.slot_id);
    if (row.text.empty() || room == rooms.end()) continue;
    SetText set{&row, font.outlines(row.text, file_name + ": " + named(row)), {}};
    set.box = ink_of(set.shape);
    common.hold(set.box);
    room_mm = std::min(room_mm, room->second.height_mm);
    texts.push_back(std::move(set));
  }
  NameSetting setting;
  if (texts.empty()) return setting;
  // a hair less than all the room, so that rounding in the files cannot push it over
  setting.height_mm = height_mm.value_or(std::max(room_mm - 0.002, 0.0));
  const double scale = setting.height_mm / common.size().y();
  for (SetText& text : texts) {
    const TextRoom& room = rooms.at(text.row->slot_id);
    const double width = scale * text.box.size().x();
    if (setting.height_mm > room.height_mm + 1e-9)
      throw input_error(file_name + ": " + named(*text.row),
                        "is " + fixed_text(setting.height_mm, 2) + " mm tall with the others, its place takes " +
                            fixed_text(room.height_mm, 2) + " mm",
                        "give --text-height " + tenth_below(room.height_mm) + " or less");
    if (width > room.width_mm + 1e-9)
      throw input_error(file_name + ": " + named(*text.row),
                        "is " + fixed_text(width, 1) + " mm wide at a height of " + fixed_text(setting.height_mm, 1) +
                            " mm, its place takes " + fixed_text(room.width_mm, 1) + " mm",
                        "shorten it, or set all with --text-height " +
                            tenth_below(setting.height_mm * room.width_mm / width) + " or less");
    const Vector2d middle(text.box.centre().x(), common.centre().y());
    Pass pass{"names", {scaled(std::move(text.shape), scale, middle)}, std::nullopt};
    if (timing != nullptr) pass.timing = *timing;
    setting.by_slot[text.row->slot_id] = std::make_shared<const std::vector<Pass>>(std::vector<Pass>{std::move(pass)});
  }
  return setting;
}

}  // namespace jigtrue
