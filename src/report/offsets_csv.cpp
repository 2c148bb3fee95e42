#include "jigtrue/report/offsets_csv.hpp"

#include "jigtrue/base/text.hpp"
#include "jigtrue/measurement/readiness.hpp"
#include "jigtrue/report/standing.hpp"

#include "report/csv_cell.hpp"

namespace jigtrue {

namespace {

using CsvRow = std::vector<std::string>;

const CsvRow& columns() {
  static const CsvRow names = {"slot",
                               "state",
                               "offset_x_mm",
                               "offset_y_mm",
                               "along_mm",
                               "across_mm",
                               "rotation_deg",
                               "u95_along_mm",
                               "u95_across_mm",
                               "u95_rotation_deg",
                               "centre_x_mm",
                               "centre_y_mm",
                               "axis_deg",
                               "diameter_mm",
                               "usable_band_mm",
                               "design_fits",
                               "reasons",
                               "machine_correction_x_mm",
                               "machine_correction_y_mm",
                               "ready"};
  return names;
}

std::string line(const CsvRow& row) {
  std::string out;
  for (std::size_t i = 0; i < row.size(); ++i) {
    if (i != 0) out += ',';
    out += csv_cell(row[i]);
  }
  return out + "\r\n";
}

std::string csv_number(const std::optional<double>& value) { return value ? fixed_text(*value, 4) : std::string(); }

CsvRow row_of(const SlotResult& slot) {
  CsvRow row = {valid_utf8(slot.id), to_string(slot.state)};
  if (slot.numbers) {
    const SlotNumbers& n = *slot.numbers;
    const ExpandedUncertainty& u = n.uncertainty;
    for (const std::optional<double>& value : std::initializer_list<std::optional<double>>{
             n.offset_mm.x(), n.offset_mm.y(), n.along_mm, n.across_mm, n.rotation_deg, u.along_mm, u.across_mm,
             u.rotation_deg, n.centre_mm.x(), n.centre_mm.y(), n.axis_deg, n.diameter_mm}) {
      row.push_back(csv_number(value));
    }
  } else {
    row.resize(14);
  }
  row.push_back(csv_number(slot.usable_band_mm));
  row.push_back(slot.design_fits ? (*slot.design_fits ? "yes" : "no") : "");
  row.push_back(valid_utf8(joined(all_reasons(slot), "; ")));
  // empty where nothing was applied; else what the numbers before hold beyond the camera's own
  const auto correction = slot.numbers ? slot.numbers->machine_correction_mm : std::nullopt;
  row.push_back(correction ? csv_number(correction->x()) : std::string());
  row.push_back(correction ? csv_number(correction->y()) : std::string());
  row.emplace_back(is_ready(slot) ? "yes" : "no");
  return row;
}

}  // namespace

std::string offsets_csv(const CheckResult& result) {
  std::string out = line(columns());
  for (const SlotResult& slot : result.slots) out += line(row_of(slot));
  return out;
}

}  // namespace jigtrue
