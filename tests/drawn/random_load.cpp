#include "drawn/random_load.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <random>
#include <string>

namespace jigtrue::test {
namespace {

class Draws {
 public:
  explicit Draws(std::uint32_t seed) : random_(seed) {}
  [[nodiscard]] double between(double from, double to) {
    return from + (to - from) * static_cast<double>(random_()) / static_cast<double>(std::mt19937::max());
  }
  [[nodiscard]] double normal() { return normal_(random_); }
  template <class T, std::size_t N>
  [[nodiscard]] const T& one_of(const std::array<T, N>& of) {
    return of[random_() % N];
  }

 private:
  std::mt19937 random_;
  std::normal_distribution<double> normal_;
};

// Linear albedos of things found in such shops; from memory, no source.
const std::array kBlankSkins{
    Skin{{0.55, 0.42, 0.26}, 0.08, 0.00},  // bamboo, maple
    Skin{{0.20, 0.09, 0.05}, 0.12, 0.05},  // walnut, oiled
    Skin{{0.33, 0.15, 0.08}, 0.10, 0.15},  // cherry, lacquered
    Skin{{0.02, 0.02, 0.02}, 0.00, 0.25},  // black lacquer
    Skin{{0.55, 0.36, 0.12}, 0.00, 0.30},  // brass
};
const std::array kJigSkins{
    Skin{{0.70, 0.70, 0.68}, 0.02, 0.0},  // white board
    Skin{{0.12, 0.13, 0.14}, 0.02, 0.0},  // slate
    Skin{{0.28, 0.28, 0.28}, 0.03, 0.0},  // grey
    Skin{{0.45, 0.32, 0.18}, 0.15, 0.0},  // plywood
    Skin{{0.06, 0.12, 0.30}, 0.02, 0.0},  // blue plastic
};

double contrast(const Skin& a, const Skin& b) { return std::abs(std::log(a.albedo.sum() / b.albedo.sum())); }

Camera camera_above(const Vector2d& middle_mm, double wide_mm, double deep_mm, double px_per_mm, Draws& draw) {
  const double height = draw.between(350.0, 600.0);
  const Vector2d foot = middle_mm + Vector2d(draw.between(-0.3, 0.3), draw.between(-0.3, 0.3)) * height;
  const double focal = px_per_mm * std::hypot(height, (foot - middle_mm).norm());
  const int width = static_cast<int>(wide_mm * px_per_mm);
  const int depth = static_cast<int>(deep_mm * px_per_mm);
  Camera camera;
  VectorXd parameters(9);
  // looking at the middle of the jig, the optical axis in the middle of a sensor of which this is a part
  const Vector3d down =
      (Vector3d(middle_mm.x(), middle_mm.y(), 5.0) - Vector3d(foot.x(), foot.y(), height)).normalized();
  const double roll = draw.between(-0.06, 0.06);
  const Vector3d right =
      (Vector3d(std::cos(roll), std::sin(roll), 0.0) - down * down.dot(Vector3d(std::cos(roll), std::sin(roll), 0.0)))
          .normalized();
  Matrix3d rotation;
  rotation << right.transpose(), down.cross(right).transpose(), down.transpose();
  parameters << focal, focal * 1.001, 0.5 * width + draw.between(-10, 10), 0.5 * depth + draw.between(-10, 10),
      draw.between(-0.15, 0.05), draw.between(-0.02, 0.05), 0.0003, -0.0002, 0.0;
  camera.lens = make_lens(LensModel::radial5, width, depth, parameters);
  camera.camera_from_bed = {rotation, -(rotation * Vector3d(foot.x(), foot.y(), height))};
  // what a calibration from a dozen views leaves, rounded: lens, then turn and shift
  VectorXd sigma = VectorXd::Zero(15);
  sigma << 0.15, 0.15, 0.15, 0.15, 3e-4, 3e-4, 2e-5, 2e-5, 0.0, 3e-5, 3e-5, 3e-5, 0.015, 0.015, 0.05;
  camera.covariance = sigma.cwiseAbs2().asDiagonal();
  return camera;
}

Camera drawn_from(const Camera& stated, Draws& draw) {
  const VectorXd sigma = stated.covariance.diagonal().cwiseSqrt();
  const Eigen::Index lens = stated.lens.parameters.size();
  VectorXd off(sigma.size());
  for (Eigen::Index i = 0; i < off.size(); ++i) off[i] = sigma[i] * draw.normal();
  Camera camera = stated;
  camera.lens = make_lens(stated.lens.model, stated.lens.width_px, stated.lens.height_px,
                          stated.lens.parameters + off.head(lens));
  camera.camera_from_bed.rotation = rotation_from_vector(off.segment<3>(lens)) * stated.camera_from_bed.rotation;
  camera.camera_from_bed.translation += off.tail<3>();
  return camera;
}

BlankShape declared_shape(LoadKind kind, Draws& draw) {
  const double diameter = 0.1 * std::round(10.0 * draw.between(9.0, 13.0));
  const double length = std::round(draw.between(60.0, 90.0));
  switch (kind) {
    case LoadKind::round_in_vees:
    case LoadKind::round_on_floors:
      return RoundBlank{diameter, length};
    case LoadKind::turned_in_vees:
    case LoadKind::turned_on_floors:
      return TurnedBlank{{{0.0, 0.8 * diameter},
                          {3.0, diameter},
                          {0.7 * length, diameter - 0.6},
                          {0.75 * length, 0.8 * diameter},
                          {length, 0.45 * diameter}}};
    case LoadKind::plates:
      break;
  }
  return PlateBlank{std::round(draw.between(40.0, 60.0)), std::round(draw.between(20.0, 28.0)), 3.0, 0.0};
}

// The declared shape as it was really made.
BlankShape made(const BlankShape& declared, double girth_mm, double length_mm) {
  if (const auto* round = std::get_if<RoundBlank>(&declared))
    return RoundBlank{round->diameter_mm + girth_mm, round->length_mm + length_mm};
  if (const auto* plate = std::get_if<PlateBlank>(&declared))
    return PlateBlank{plate->width_mm + length_mm, plate->height_mm + girth_mm, plate->thickness_mm,
                      plate->corner_radius_mm};
  TurnedBlank turned = std::get<TurnedBlank>(declared);
  const double length = turned.profile.back().distance_mm;
  for (ProfilePoint& point : turned.profile) {
    point.diameter_mm += girth_mm;
    point.distance_mm *= (length + length_mm) / length;
  }
  return turned;
}

Seat declared_seat(LoadKind kind, const BlankShape& shape, Draws& draw) {
  Seat seat;
  const double girth = largest_girth_mm(shape);
  if (kind == LoadKind::round_in_vees || kind == LoadKind::turned_in_vees) {
    seat.kind = VeeSeat{4.0, 90.0};
    seat.top_mm = 4.0 + girth * draw.between(0.4, 0.7);
  } else {
    seat.kind = FloorSeat{3.0};
    seat.top_mm = 3.0 + (kind == LoadKind::plates ? draw.between(0.5, 2.0) : girth * draw.between(0.2, 0.45));
  }
  return seat;
}

Seat cut(const Seat& declared, double lift_mm) {
  Seat seat = declared;
  if (auto* vee = std::get_if<VeeSeat>(&seat.kind)) vee->bottom_mm += lift_mm;
  if (auto* floor = std::get_if<FloorSeat>(&seat.kind)) floor->height_mm += lift_mm;
  return seat;
}

DrawnLight random_light(Draws& draw) {
  DrawnLight light;
  light.sky = draw.between(0.35, 0.9);
  const double azimuth = draw.between(-kPi, kPi);
  const double height = draw.between(rad_from_deg(40.0), rad_from_deg(85.0));
  light.towards_lamp = {std::cos(height) * std::cos(azimuth), std::cos(height) * std::sin(azimuth), std::sin(height)};
  light.lamp_half_width_rad = draw.between(0.02, 0.35);
  return light;
}

// `seat_of`: drawn when its turn comes, so that a seed makes the load it always made.
RandomLoad load_of(Draws& draw, const Blank& blank, const std::function<Seat()>& seat_of, int slots, double px_per_mm,
                   std::uint32_t seed) {
  RandomLoad load;
  const BlankShape& shape = blank.shape;
  const double pitch = largest_girth_mm(shape) + draw.between(11.0, 15.0);
  const Vector2d middle(200.0, 150.0);
  load.stated = camera_above(middle, length_mm(shape) + 50.0, pitch * slots + 50.0, px_per_mm, draw);
  load.bed.camera = drawn_from(load.stated, draw);
  load.bed.light = random_light(draw);
  load.bed.jig = draw.one_of(kJigSkins);
  Skin skin = draw.one_of(kBlankSkins);
  while (contrast(skin, load.bed.jig) < 0.35) skin = draw.one_of(kBlankSkins);
  load.bed.exposure = draw.between(0.8, 1.1);
  load.bed.blur_px = draw.between(0.55, 1.1);
  load.bed.noise = draw.between(0.002, 0.006);
  load.fixture.name = "drawn load " + std::to_string(seed);
  const Seat seat = seat_of();
  const bool in_vee = std::holds_alternative<VeeSeat>(seat.kind);
  const Vector2d jig_shift(draw.between(-0.7, 0.7), draw.between(-0.7, 0.7));
  const double jig_turn = rad_from_deg(draw.between(-0.4, 0.4));
  const Eigen::Rotation2Dd turned(jig_turn);
  const double end_room = draw.between(0.0, 1.0) < 0.5 ? 2.5 : 12.0;  // a pocket, or a groove that goes on
  for (int i = 0; i < slots; ++i) {
    Slot slot;
    slot.id = std::to_string(i + 1);
    slot.centre_mm = middle + Vector2d(0.0, pitch * (i - 0.5 * (slots - 1)));
    slot.blank = blank;
    slot.seat = seat;
    load.fixture.slots.push_back(slot);
    DrawnSlot there;
    there.seat_centre_mm = middle + jig_shift + turned * (slot.centre_mm - middle);
    there.seat_heading_rad = jig_turn;
    there.declared = shape;
    there.room_mm = 2.5;
    there.end_room_mm = end_room;
    there.seat = cut(seat, seat.height_tolerance_mm * draw.between(-1.0, 1.0));
    const double girth = slot.blank.diameter_tolerance_mm * draw.between(-1.0, 1.0);
    const double longer = slot.blank.length_tolerance_mm * draw.between(-1.0, 1.0);
    // a plate's sides share the length's tolerance, as they do in fixture.json
    there.blank = made(shape, girth, longer);
    const double across = in_vee ? 0.0 : draw.between(-1.5, 1.5);
    const double turn = in_vee ? 0.0 : rad_from_deg(draw.between(-0.7, 0.7));
    there.centre_mm = there.seat_centre_mm + turned * Vector2d(draw.between(-1.2, 1.2), across);
    there.heading_rad = jig_turn + turn;
    there.skin = skin;
    load.bed.slots.push_back(there);
  }
  return load;
}

}  // namespace

RandomLoad random_load(LoadKind kind, int slots, double px_per_mm, std::uint32_t seed) {
  Draws draw(seed);
  const Blank blank{declared_shape(kind, draw)};
  return load_of(
      draw, blank, [&] { return declared_seat(kind, blank.shape, draw); }, slots, px_per_mm, seed);
}

RandomLoad random_load(const Slot& declared, int slots, double px_per_mm, std::uint32_t seed) {
  Draws draw(seed);
  return load_of(
      draw, declared.blank, [&] { return declared.seat; }, slots, px_per_mm, seed);
}

}  // namespace jigtrue::test
