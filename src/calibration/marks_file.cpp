#include "jigtrue/calibration/marks_file.hpp"

#include "jigtrue/base/decompositions.hpp"
#include "jigtrue/calibration/match_marks.hpp"

#include <cmath>
#include <cstdio>

#include "calibration/json_write.hpp"

namespace jigtrue {
namespace {

constexpr JsonForm kMarksForm{"a list of marks", "jigtrue.marks/1",
                              "list each mark as [x, y, height] in mm, as the target command writes it"};
constexpr std::size_t kFewestListed = 4;  // a pose wants four
constexpr std::size_t kMost = 1000;       // more than any sheet holds
constexpr double kFarthest_mm = 5000.0;   // beyond any bed
constexpr double kHighest_mm = 500.0;     // above any bed's lid
constexpr double kThinnestList = 0.02;    // spread across the marks' main direction, relative to along it

Vector3d place_of(const JsonField& field) {
  if (!field.is_object()) return field.numbers(3);
  return {field["x_mm"].number(), field["y_mm"].number(), field["height_mm"].number()};
}

std::string name_of(std::size_t i, const Vector3d& mark) {
  char text[80];
  std::snprintf(text, sizeof text, "mark %zu at (%g, %g)", i + 1, mark.x(), mark.y());
  return text;
}

void refuse_same_place(const JsonField& field, const std::vector<Vector3d>& marks, double field_mm) {
  const Vector3d& last = marks.back();
  for (std::size_t i = 0; i + 1 < marks.size(); ++i) {
    const double apart = (marks[i] - last).head<2>().norm();
    if (apart >= 2.0 * field_mm) continue;
    if (apart > 0.01) field.fail("overlaps " + name_of(i, marks[i]));
    if (std::abs(marks[i].z() - last.z()) > 0.01)
      field.fail("contradicts " + name_of(i, marks[i]) + ": one place, two heights");
    field.fail("repeats " + name_of(i, marks[i]));
  }
}

void refuse_line(const JsonField& list, const std::vector<Vector3d>& marks) {
  Vector2d centre = Vector2d::Zero();
  for (const Vector3d& m : marks) centre += m.head<2>() / static_cast<double>(marks.size());
  Matrix2d spread = Matrix2d::Zero();
  for (const Vector3d& m : marks) spread += (m.head<2>() - centre) * (m.head<2>() - centre).transpose();
  const Vector2d axes = symmetric_eigenvalues(spread);
  if (!(axes[0] > kThinnestList * kThinnestList * axes[1]))
    list.fail("must not lie in one line: that leaves the camera's tilt open");
  if (!hold_a_pose(marks)) list.fail("must hold four marks of which no three lie in one line");
}

}  // namespace

MarksFile read_marks_json(const std::string& text, const std::string& file_name) {
  const JsonFile file(text, file_name, kMarksForm);
  const JsonField root = file.checked_root();
  MarksFile marks;
  if (root.has("field_mm")) marks.field_mm = root["field_mm"].positive();
  if (root.has("sigma_mm")) marks.sigma_mm = root["sigma_mm"].positive();
  if (marks.field_mm < 0.5 || marks.field_mm > 200.0) root["field_mm"].fail("must lie between 0.5 and 200 mm");
  if (marks.sigma_mm > 5.0) root["sigma_mm"].fail("must not exceed 5 mm");
  const JsonField list = root["marks_mm"];
  if (list.size() < kFewestListed) list.fail("must hold at least four marks");
  if (list.size() > kMost) list.fail("must hold at most 1000 marks");
  for (std::size_t i = 0; i < list.size(); ++i) {
    const JsonField field = list[i];
    const Vector3d mark = place_of(field);
    if (std::abs(mark.x()) > kFarthest_mm || std::abs(mark.y()) > kFarthest_mm)
      field.fail("must lie within 5000 mm of the bed's origin");
    if (std::abs(mark.z()) > kHighest_mm) field.fail("must lie within 500 mm of the bed's height");
    marks.marks_mm.push_back(mark);
    refuse_same_place(field, marks.marks_mm, marks.field_mm);
  }
  refuse_line(list, marks.marks_mm);
  return marks;
}

}  // namespace jigtrue
