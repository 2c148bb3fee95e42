#include "jigtrue/target/target_burn.hpp"

#include "jigtrue/base/error.hpp"

#include <cmath>

#include "target/target_parts.hpp"
#include <nlohmann/json.hpp>

namespace jigtrue {

namespace {

std::string place_name(const Vector2d& mm) { return short_number(mm.x(), 3) + "," + short_number(mm.y(), 3); }

void check(const BurnMarks& marks) {
  const double reach = marks.field_mm;
  const Vector2d low = marks.machine.front_left_mm();
  const Vector2d high = low + marks.machine.bed_mm;
  for (std::size_t i = 0; i < marks.centres_mm.size(); ++i) {
    const Vector2d& centre = marks.centres_mm[i];
    const Vector2d from = centre - Vector2d::Constant(reach);
    const Vector2d to = centre + Vector2d::Constant(reach);
    if (from.x() < low.x() || from.y() < low.y() || to.x() > high.x() || to.y() > high.y())
      throw input_error("--burn " + place_name(centre), "the mark reaches beyond the bed",
                        "X from " + short_number(low.x() + reach, 3) + " to " + short_number(high.x() - reach, 3) +
                            " and Y from " + short_number(low.y() + reach, 3) + " to " +
                            short_number(high.y() - reach, 3) + " leave room for it");
    for (std::size_t j = 0; j < i; ++j) {
      const double apart = (centre - marks.centres_mm[j]).cwiseAbs().maxCoeff();
      if (apart < 4.0 * marks.field_mm)  // each its two fields and the white border about them
        throw input_error("--burn " + place_name(centre),
                          "another mark at " + place_name(marks.centres_mm[j]) + " is too near",
                          "keep " + short_number(4.0 * marks.field_mm, 3) + " mm between centres");
    }
  }
}

}  // namespace

std::vector<Vector2d> mark_grid(const Vector2d& corner_mm, const Vector2d& opposite_mm, int columns, int rows,
                                double field_mm) {
  const Vector2d low = corner_mm.cwiseMin(opposite_mm) + Vector2d::Constant(field_mm);
  const Vector2d span = corner_mm.cwiseMax(opposite_mm) - Vector2d::Constant(field_mm) - low;
  const Vector2d step(columns > 1 ? span.x() / (columns - 1) : 0.0, rows > 1 ? span.y() / (rows - 1) : 0.0);
  const double least = 4.0 * field_mm;
  if (span.minCoeff() < 0.0 || (columns > 1 && step.x() < least) || (rows > 1 && step.y() < least))
    throw input_error("--grid " + std::to_string(columns) + "x" + std::to_string(rows),
                      "so many marks do not fit the area", "take fewer, or a larger area");
  std::vector<Vector2d> centres;
  for (int row = 0; row < rows; ++row) {
    for (int column = 0; column < columns; ++column) {
      const Vector2d start(columns > 1 ? low.x() : low.x() + span.x() / 2.0,
                           rows > 1 ? low.y() : low.y() + span.y() / 2.0);
      centres.emplace_back(start + step.cwiseProduct(Vector2d(column, row)));
    }
  }
  return centres;
}

TargetDrawing burn_drawing(const BurnMarks& marks) {
  if (!(marks.field_mm >= 2.0 && marks.field_mm <= 40.0))
    throw input_error("--field", "a mark's field must be 2 to 40 mm", "8 is the usual size");
  check(marks);
  const Vector2d low = marks.machine.front_left_mm();
  TargetDrawing drawing;
  drawing.title = "Marks to burn";
  drawing.description = "True millimetres; the page is the bed, its lower-left corner bed X " +
                        short_number(low.x(), 3) + ", Y " + short_number(low.y(), 3) +
                        "; the machine's own origin is the " + to_string(marks.machine.origin_corner) +
                        " corner. Fill black, do not outline or scale. Centres:";
  for (const Vector2d& centre : marks.centres_mm) {
    drawing.description += ' ';
    drawing.description += place_name(centre);
  }
  drawing.size_mm = marks.machine.bed_mm;
  for (const Vector2d& centre : marks.centres_mm) add_mark_fields(drawing, centre - low, marks.field_mm);
  return drawing;
}

std::string marks_json(const BurnMarks& marks) {
  nlohmann::ordered_json json;
  json["schema"] = "jigtrue.marks/1";
  json["marks_mm"] = nlohmann::ordered_json::array();
  const auto rounded = [](double mm) { return std::round(mm * 1e4) / 1e4; };
  for (const Vector2d& centre : marks.centres_mm) {
    json["marks_mm"].push_back({rounded(centre.x()), rounded(centre.y()), rounded(marks.height_mm)});
  }
  if (marks.field_mm != 8.0) json["field_mm"] = marks.field_mm;
  return json.dump(1) + "\n";
}

}  // namespace jigtrue
