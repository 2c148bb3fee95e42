#include "jigtrue/report/table.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/report/standing.hpp"

#include <algorithm>
#include <array>

namespace jigtrue {

namespace {

constexpr std::size_t kColumns = 9;
using TableRow = std::array<std::string, kColumns>;
constexpr std::array<bool, kColumns> kRight = {false, false, true, true, true, true, true, true, false};

const TableRow kHead = {"slot",     "state",     "along mm", "across mm", "turn deg",
                        "+/-along", "+/-across", "+/-turn",  "design"};

std::string design_word(const SlotResult& slot) {
  if (!slot.design_fits) return "-";
  return *slot.design_fits ? "fits" : "DOES NOT FIT";
}

TableRow table_row(const SlotResult& slot) {
  const std::string state = std::string(to_string(slot.state)) + (standing(slot) == Standing::ready ? "" : " !");
  TableRow row = {terminal_text(slot.id), state, "-", "-", "-", "-", "-", "-", design_word(slot)};
  if (!slot.numbers) return row;
  const SlotNumbers& n = *slot.numbers;
  if (n.along_mm) row[2] = signed_text(*n.along_mm, 2);
  row[3] = signed_text(n.across_mm, 2);
  row[4] = signed_text(n.rotation_deg, 2);
  if (n.uncertainty.along_mm) row[5] = fixed_text(*n.uncertainty.along_mm, 2);
  row[6] = fixed_text(n.uncertainty.across_mm, 2);
  row[7] = fixed_text(n.uncertainty.rotation_deg, 2);
  return row;
}

std::string aligned(const TableRow& row, const std::array<std::size_t, kColumns>& widths) {
  std::string out;
  for (std::size_t i = 0; i < kColumns; ++i) {
    if (i != 0) out += "  ";
    if (kRight[i]) out.append(widths[i] - row[i].size(), ' ');
    out += terminal_cell(row[i], kRight[i] ? 0 : widths[i]);
  }
  out.erase(out.find_last_not_of(' ') + 1);
  return out + "\n";
}

}  // namespace

std::string result_table(const CheckResult& result) {
  std::vector<TableRow> rows = {kHead};
  for (const SlotResult& slot : result.slots) rows.push_back(table_row(slot));
  std::array<std::size_t, kColumns> widths{};
  for (const TableRow& row : rows) {
    for (std::size_t i = 0; i < kColumns; ++i) widths[i] = std::max(widths[i], terminal_columns(row[i]));
  }
  std::string out;
  for (const TableRow& row : rows) out += aligned(row, widths);
  out +=
      "Move the design by these: along = the slot's axis direction, across = 90 deg to its left (seen from above),\n"
      "turn = counter-clockwise. +/- holds the truth 95 times in 100. \"-\" = not measured.\n";
  out += terminal_text(headline(result)) + "\n";
  for (const Attention& item : needing_person(result)) {
    out += "  slot " + terminal_text(item.slot_id + ": " + item.finding + ": " + item.action) + "\n";
  }
  return out;
}

}  // namespace jigtrue
