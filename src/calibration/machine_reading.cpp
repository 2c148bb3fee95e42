#include "jigtrue/calibration/machine_reading.hpp"

#include <algorithm>
#include <cmath>

#include "calibration/json_write.hpp"

namespace jigtrue {
namespace {

Json figure_json(const Figure& figure) { return {{"value", figure.value}, {"u95", figure.u95}}; }

// Far beyond any machine that still burns; it keeps edited files from carrying nonsense into places.
double bounded(const JsonField& field, double most) {
  const double value = field.number();
  if (std::abs(value) > most) field.fail("is beyond any machine");
  return value;
}

Figure read_figure(const JsonField& field) {
  const Figure figure{bounded(field["value"], 10.0), bounded(field["u95"], 10.0)};
  if (figure.u95 < 0.0) field["u95"].fail("must not be negative");
  return figure;
}

Vector2d read_place(const JsonField& field, double farthest_mm) {
  if (field.size() != 2) field.fail("must hold 2 numbers");
  return {bounded(field[0], farthest_mm), bounded(field[1], farthest_mm)};
}

}  // namespace

Vector2d BeamMap::at(const Vector2d& bed_mm) const { return middle_mm + beam_from_bed * (bed_mm - middle_mm); }

double BeamMap::sigma_mm(const Vector2d& bed_mm) const {
  const Vector2d d = bed_mm - middle_mm;
  const Vector2d of_x(-0.5 * d.x(), d.y());
  const Vector2d of_y(0.5 * d.y(), 0.0);
  return std::sqrt(std::max(of_x.dot(covariance * of_x), of_y.dot(covariance * of_y)));
}

double BeamMap::turn_rad(double heading_rad) const {
  const Vector2d before = unit_vector(heading_rad);
  const Vector2d after = beam_from_bed * before;
  return std::atan2(before.x() * after.y() - before.y() * after.x(), before.dot(after));
}

double BeamMap::turn_sigma_rad(double heading_rad) const {
  // across the direction: what either figure does to a unit along it
  const double c = std::cos(heading_rad);
  const double s = std::sin(heading_rad);
  const Vector2d by(c * s, -s * s);
  return std::sqrt(by.dot(covariance * by));
}

Json machine_json(const MachineReading& machine) {
  const MachineFigures& f = machine.figures;
  Json json = {{"marks", f.marks}, {"rest_mm", f.rest_mm}};
  if (f.scale_x) json["scale_x"] = figure_json(*f.scale_x);
  if (f.scale_y) json["scale_y"] = figure_json(*f.scale_y);
  json["scale_x_less_y"] = figure_json(f.scale_x_less_y);
  json["squareness_deg"] = figure_json(f.squareness_deg);
  // beam = middle + matrix (bed - middle); covariance of [scale along X less Y, squareness in rad]
  json["beam_from_bed"] = {{"middle_mm", json_of(VectorXd(machine.map.middle_mm))},
                           {"matrix", json_rows(machine.map.beam_from_bed)},
                           {"covariance", json_rows(machine.map.covariance)}};
  return json;
}

MachineReading read_machine_reading(const JsonField& field) {
  constexpr double kStraightest = 0.05;  // no machine that burns what it is told is off by a twentieth
  MachineReading machine;
  MachineFigures& f = machine.figures;
  f.marks = field["marks"].positive_integer();
  f.rest_mm = std::abs(bounded(field["rest_mm"], 10.0));
  if (field.has("scale_x")) f.scale_x = read_figure(field["scale_x"]);
  if (field.has("scale_y")) f.scale_y = read_figure(field["scale_y"]);
  f.scale_x_less_y = read_figure(field["scale_x_less_y"]);
  f.squareness_deg = read_figure(field["squareness_deg"]);
  const JsonField map = field["beam_from_bed"];
  machine.map.middle_mm = read_place(map["middle_mm"], 5000.0);
  machine.map.beam_from_bed = map["matrix"].matrix(2, 2);
  if (!((machine.map.beam_from_bed - Matrix2d::Identity()).cwiseAbs().maxCoeff() <= kStraightest))
    map["matrix"].fail("must lie within 0.05 of one to one");
  machine.map.covariance = map["covariance"].covariance(2);
  if (machine.map.covariance.cwiseAbs().maxCoeff() > 1.0) map["covariance"].fail("is beyond any machine");
  return machine;
}

}  // namespace jigtrue
