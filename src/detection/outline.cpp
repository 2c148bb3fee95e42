#include "jigtrue/detection/outline.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

namespace jigtrue {
namespace {

struct Emitter {
  const Camera& camera;
  OutlineOptions options;
  Vector3d eye_mm;
  Vector2d centre_mm;
  double heading_rad;
  std::vector<OutlineSample> samples;

  [[nodiscard]] bool wants(OutlinePart part) const {
    return options.extent == OutlineExtent::whole || (options.extent == OutlineExtent::sides) == is_side(part);
  }
  [[nodiscard]] Vector3d along() const { return {std::cos(heading_rad), std::sin(heading_rad), 0.0}; }
  [[nodiscard]] Vector3d across() const { return {-std::sin(heading_rad), std::cos(heading_rad), 0.0}; }

  // `length_share`: how far the point moves along the axis per mm of added length, -1/2 at the start to 1/2 at the end.
  // `tangent`: direction of the outline in space at the point (any length); `outward`: a direction that leads out of
  // the blank.
  bool emit(OutlinePart part, double station_mm, const Vector3d& point_mm, const Vector3d& tangent,
            const Vector3d& outward, const Vector3d& girth_motion, double length_share, double radius_mm) {
    const auto projection = project_with_jacobian(camera.lens, camera.camera_from_bed * point_mm);
    if (!projection) return false;
    const Vector2d px = projection->px;
    if (px.x() < options.margin_px || px.y() < options.margin_px ||
        px.x() > camera.lens.width_px - 1 - options.margin_px || px.y() > camera.lens.height_px - 1 - options.margin_px)
      return false;
    const Eigen::Matrix<double, 2, 3> by_point = projection->by_point * camera.camera_from_bed.rotation;
    const Vector2d tangent_px = by_point * tangent;
    if (!(tangent_px.norm() > 0.0)) return false;
    OutlineSample sample;
    sample.part = part;
    sample.station_mm = station_mm;
    sample.point_mm = point_mm;
    sample.px = px;
    sample.normal_px = Vector2d(-tangent_px.y(), tangent_px.x()).normalized();
    if (sample.normal_px.dot(by_point * outward) < 0.0) sample.normal_px = -sample.normal_px;
    const Eigen::Matrix<double, 1, 3> motion = sample.normal_px.transpose() * by_point;
    Vector3d horizontal(outward.x(), outward.y(), 0.0);
    horizontal.normalize();
    sample.px_per_mm = std::abs(motion.dot(horizontal));
    sample.radius_px = radius_mm * sample.px_per_mm;
    const Vector3d arm(point_mm.x() - centre_mm.x(), point_mm.y() - centre_mm.y(), 0.0);
    sample.by_place[kAcross] = motion.dot(across());
    sample.by_place[kAlong] = motion.dot(along());
    sample.by_place[kTurn] = motion.dot(Vector3d::UnitZ().cross(arm));
    sample.by_place[kGirth] = motion.dot(girth_motion);
    sample.by_place[kLength] = length_share * sample.by_place[kAlong];
    sample.by_place[kLift] = motion.z();
    samples.push_back(sample);
    return true;
  }

  // Tells the last sample that the blank goes on, beside its edge, to `foot_mm`.
  void add_wall(const Vector3d& foot_mm) {
    OutlineSample& sample = samples.back();
    if (const auto px = project_bed_point(camera, foot_mm))
      sample.wall_px = std::max(0.0, sample.normal_px.dot(*px - sample.px));
  }

  // Number of samples for a stretch of `length_mm` near `point_mm`, at the asked spacing.
  [[nodiscard]] int count(const Vector3d& point_mm, const Vector3d& direction, double length_mm) const {
    const auto projection = project_with_jacobian(camera.lens, camera.camera_from_bed * point_mm);
    const double px_per_mm =
        projection ? (projection->by_point * (camera.camera_from_bed.rotation * direction.normalized())).norm() : 1.0;
    return std::clamp(static_cast<int>(std::lround(length_mm * px_per_mm / options.spacing_px)), 2, 4000);
  }
};

// How the height of the axis grows with the girth: the seat lifts a thicker blank.
double lift_per_girth(const Seat& seat) {
  if (const auto* vee = std::get_if<VeeSeat>(&seat.kind)) return 0.5 / std::sin(rad_from_deg(vee->angle_deg) / 2.0);
  return std::holds_alternative<FloorSeat>(seat.kind) ? 0.5 : 0.0;
}

// Where the groove's rim comes before a limb, the rim is what the camera sees. The groove's sides meet the fixture's
// top face `half_open` to either side of the axis, so the rim runs with the blank and still tells where it lies.
struct Rim {
  double half_open_mm;
  double top_mm;
};
std::optional<Rim> groove_rim(const Seat& seat) {
  const auto* vee = std::get_if<VeeSeat>(&seat.kind);
  if (vee == nullptr || !seat.top_mm) return std::nullopt;
  return Rim{(*seat.top_mm - vee->bottom_mm) * std::tan(rad_from_deg(vee->angle_deg) / 2.0), *seat.top_mm};
}

// True when the sight line from the eye to the limb passes below the top face beside the groove, or nearly so.
bool behind_rim(const Rim& rim, const AxisFrame& axis, const OutlinePoint& limb, const Vector3d& eye_mm) {
  constexpr double kClearanceMm = 0.15;  // rims are not sharp
  if (limb.point_mm.z() >= rim.top_mm) return false;
  const double share = (rim.top_mm - limb.point_mm.z()) / (eye_mm.z() - limb.point_mm.z());
  const Vector3d crossing = limb.point_mm + share * (eye_mm - limb.point_mm);
  return std::abs((crossing - axis.origin_mm).dot(axis.side)) > rim.half_open_mm - kClearanceMm;
}

void emit_sides_of_revolution(Emitter& emitter, const Seat& seat, const AxisFrame& axis,
                              const std::vector<Vector2d>& profile) {
  const double half_length = profile.back().x() / 2.0;
  const Vector3d lift = lift_per_girth(seat) * Vector3d::UnitZ();
  const std::optional<Rim> rim = groove_rim(seat);
  for (std::size_t i = 1; i < profile.size(); ++i) {
    const double length = profile[i].x() - profile[i - 1].x();
    const double slope = (profile[i].y() - profile[i - 1].y()) / length;
    const int n = emitter.count(axis.at((profile[i].x() + profile[i - 1].x()) / 2.0), axis.along, length);
    for (int k = 0; k < n; ++k) {
      const double t = profile[i - 1].x() + length * (k + 0.5) / n;
      if (std::abs(t - half_length) < emitter.options.sides_from_mm) continue;
      const double radius = profile[i - 1].y() + slope * (t - profile[i - 1].x());
      const auto limbs = contour_generator(axis, t, radius, slope, emitter.eye_mm);
      if (!limbs) continue;
      for (int side = 0; side < 2; ++side) {
        const OutlinePoint& limb = (*limbs)[static_cast<std::size_t>(side)];
        if (rim && behind_rim(*rim, axis, limb, emitter.eye_mm)) {
          const double sign = side == 0 ? 1.0 : -1.0;
          Vector3d point = axis.at(t) + sign * rim->half_open_mm * axis.side;
          point.z() = rim->top_mm;
          if (emitter.emit(side == 0 ? OutlinePart::left : OutlinePart::right, t - half_length, point, axis.along,
                           sign * axis.side, Vector3d::Zero(), 0.0, 0.0))
            emitter.samples.back().rim = true;
          continue;
        }
        const Vector3d tangent = limb.normal.cross(limb.point_mm - emitter.eye_mm);
        emitter.emit(side == 0 ? OutlinePart::left : OutlinePart::right, t - half_length, limb.point_mm, tangent,
                     limb.normal, 0.5 * limb.normal + lift, t / profile.back().x() - 0.5, radius);
      }
    }
  }
}

void emit_ends_of_revolution(Emitter& emitter, const Seat& seat, const AxisFrame& axis,
                             const std::vector<Vector2d>& profile) {
  const Vector3d lift = lift_per_girth(seat) * Vector3d::UnitZ();
  // The upper arc of either end: a crease where the end face is seen, the outline itself where it is not.
  constexpr double kArcHalf = 65.0 * kPi / 180.0;
  for (const bool at_start : {true, false}) {
    const double t = at_start ? 0.0 : profile.back().x();
    const double radius = at_start ? profile.front().y() : profile.back().y();
    const double facing = facing_angle_rad(axis, t, emitter.eye_mm);
    // ends are short: sampled twice as densely
    const int n = 2 * emitter.count(axis.at(t), axis.side, 2.0 * kArcHalf * radius);
    for (int k = 0; k < n; ++k) {
      const double angle = facing + kArcHalf * (2.0 * (k + 0.5) / n - 1.0);
      const Vector3d radial = std::cos(angle) * axis.side + std::sin(angle) * axis.up;
      const Vector3d tangent = -std::sin(angle) * axis.side + std::cos(angle) * axis.up;
      const Vector3d point = axis.at(t) + radius * radial;
      if (emitter.emit(at_start ? OutlinePart::start : OutlinePart::end, radius * radial.dot(axis.side), point, tangent,
                       at_start ? -axis.along : axis.along, 0.5 * radial + lift, at_start ? -0.5 : 0.5, 0.0))
        emitter.add_wall(point - 2.0 * radius * radial.dot(axis.up) * axis.up);
    }
  }
}

void emit_revolution(Emitter& emitter, const Blank& blank, const Seat& seat, const BlankPlace& place) {
  const std::vector<Vector2d> profile = radius_profile(grown(blank.shape, place.girth_mm, place.length_mm));
  const AxisFrame axis = axis_at(blank, seat, place);
  if (emitter.wants(OutlinePart::left)) emit_sides_of_revolution(emitter, seat, axis, profile);
  if (emitter.wants(OutlinePart::start)) emit_ends_of_revolution(emitter, seat, axis, profile);
}

void emit_plate(Emitter& emitter, const Blank& blank, const Seat& seat, const BlankPlace& place) {
  const auto plate = std::get<PlateBlank>(grown(blank.shape, place.girth_mm, place.length_mm));
  const double top = top_face_mm(blank.shape, seat);
  const Vector3d centre(place.centre_mm.x(), place.centre_mm.y(), top);
  const Vector3d along = emitter.along();
  const Vector3d across = emitter.across();
  // the corner's round joins the straight side smoothly: a little more than the radius is left out
  const double inset = plate.corner_radius_mm + 0.3;
  auto side = [&](OutlinePart part, const Vector3d& outward, double distance, const Vector3d& direction, double half,
                  double girth_sign, double length_share) {
    if (!emitter.wants(part)) return;
    const double reach = std::max(half - inset, 0.25 * half);
    const int n = emitter.count(centre + distance * outward, direction, 2.0 * reach);
    for (int k = 0; k < n; ++k) {
      const double s = reach * (2.0 * (k + 0.5) / n - 1.0);
      if (is_side(part) && std::abs(s) < emitter.options.sides_from_mm) continue;
      const Vector3d point = centre + distance * outward + s * direction;
      if (emitter.emit(part, s, point, direction, outward, girth_sign * 0.5 * outward, length_share, 0.0))
        emitter.add_wall(point - plate.thickness_mm * Vector3d::UnitZ());
    }
  };
  side(OutlinePart::left, across, plate.height_mm / 2.0, along, plate.width_mm / 2.0, 1.0, 0.0);
  side(OutlinePart::right, -across, plate.height_mm / 2.0, along, plate.width_mm / 2.0, 1.0, 0.0);
  side(OutlinePart::start, -along, plate.width_mm / 2.0, across, plate.height_mm / 2.0, 0.0, -0.5);
  side(OutlinePart::end, along, plate.width_mm / 2.0, across, plate.height_mm / 2.0, 0.0, 0.5);
}

void emit_disc(Emitter& emitter, const Blank& blank, const Seat& seat, const BlankPlace& place) {
  const auto disc = std::get<DiscBlank>(grown(blank.shape, place.girth_mm, place.length_mm));
  const Vector3d centre(place.centre_mm.x(), place.centre_mm.y(), top_face_mm(blank.shape, seat));
  const double radius = disc.diameter_mm / 2.0;
  const int n = std::max(16, emitter.count(centre, emitter.along(), 2.0 * kPi * radius));
  for (int k = 0; k < n; ++k) {
    const double angle = 2.0 * kPi * (k + 0.5) / n;
    const Vector3d radial = std::cos(angle) * emitter.along() + std::sin(angle) * emitter.across();
    const Vector3d tangent = -std::sin(angle) * emitter.along() + std::cos(angle) * emitter.across();
    const OutlinePart part = std::abs(std::sin(angle)) >= std::abs(std::cos(angle))
                                 ? (std::sin(angle) > 0.0 ? OutlinePart::left : OutlinePart::right)
                                 : (std::cos(angle) < 0.0 ? OutlinePart::start : OutlinePart::end);
    const double station =
        radius * (part == OutlinePart::left || part == OutlinePart::right ? std::cos(angle) : std::sin(angle));
    const Vector3d point = centre + radius * radial;
    if (emitter.emit(part, station, point, tangent, radial, 0.5 * radial, 0.0, 0.0))
      emitter.add_wall(point - disc.thickness_mm * Vector3d::UnitZ());
  }
}

}  // namespace

BlankShape grown(const BlankShape& shape, double girth_mm, double length_mm) {
  BlankShape result = shape;
  if (auto* round = std::get_if<RoundBlank>(&result)) {
    round->diameter_mm += girth_mm;
    round->length_mm += length_mm;
  } else if (auto* turned = std::get_if<TurnedBlank>(&result)) {
    const double stretch = 1.0 + length_mm / turned->profile.back().distance_mm;
    for (ProfilePoint& point : turned->profile) {
      point.diameter_mm = std::max(point.diameter_mm + girth_mm, 0.1);
      point.distance_mm *= stretch;
    }
  } else if (auto* plate = std::get_if<PlateBlank>(&result)) {
    plate->height_mm += girth_mm;
    plate->width_mm += length_mm;
  } else if (auto* disc = std::get_if<DiscBlank>(&result)) {
    disc->diameter_mm += girth_mm;
  }
  return result;
}

AxisFrame axis_at(const Blank& blank, const Seat& seat, const BlankPlace& place) {
  const BlankShape shape = grown(blank.shape, place.girth_mm, place.length_mm);
  const AxisLine line = resting_axis(shape, seat);
  const double half_reach = std::cos(line.tilt_rad) * jigtrue::length_mm(shape) / 2.0;
  const Vector3d start(place.centre_mm.x() - half_reach * std::cos(place.heading_rad),
                       place.centre_mm.y() - half_reach * std::sin(place.heading_rad), line.height_at_start_mm);
  return make_axis_frame(start, place.heading_rad, line.tilt_rad);
}

std::vector<OutlineSample> outline_samples(const Camera& camera, const Blank& blank, const Seat& seat,
                                           const BlankPlace& place, const OutlineOptions& options) {
  Emitter emitter{camera, options, camera.centre_mm(), place.centre_mm, place.heading_rad, {}};
  if (std::holds_alternative<PlateBlank>(blank.shape)) {
    emit_plate(emitter, blank, seat, place);
  } else if (std::holds_alternative<DiscBlank>(blank.shape)) {
    emit_disc(emitter, blank, seat, place);
  } else {
    emit_revolution(emitter, blank, seat, place);
  }
  return std::move(emitter.samples);
}

std::vector<Vector3d> crown_line(const Blank& blank, const Seat& seat, const BlankPlace& place) {
  const Vector3d along(std::cos(place.heading_rad), std::sin(place.heading_rad), 0.0);
  if (is_flat(blank.shape)) {
    const BlankShape shape = grown(blank.shape, place.girth_mm, place.length_mm);
    const Vector3d centre(place.centre_mm.x(), place.centre_mm.y(), top_face_mm(shape, seat));
    const double half = length_mm(shape) / 2.0;
    return {centre - half * along, centre + half * along};
  }
  const AxisFrame axis = axis_at(blank, seat, place);
  std::vector<Vector3d> line;
  for (const Vector2d& point : radius_profile(grown(blank.shape, place.girth_mm, place.length_mm)))
    line.push_back(axis.at(point.x()) + point.y() * axis.up);
  return line;
}

double design_height_mm(const Blank& blank, const Seat& seat, const BlankPlace& place, double along_mm) {
  const std::vector<Vector3d> line = crown_line(blank, seat, place);
  const Vector2d along = place.along();
  auto station = [&](const Vector3d& p) { return (p.head<2>() - place.centre_mm).dot(along); };
  for (std::size_t i = 1; i < line.size(); ++i) {
    const double from = station(line[i - 1]);
    const double to = station(line[i]);
    if (along_mm <= to || i + 1 == line.size()) {
      const double share = std::clamp((along_mm - from) / std::max(to - from, 1e-9), 0.0, 1.0);
      return line[i - 1].z() + share * (line[i].z() - line[i - 1].z());
    }
  }
  return line.front().z();
}

std::vector<Polyline2d> outline_polylines(const Camera& camera, const Blank& blank, const Seat& seat,
                                          const BlankPlace& place) {
  OutlineOptions options;
  options.spacing_px = 6.0;
  options.margin_px = 0.0;
  const auto meet = [&options](const Vector2d& a, const Vector2d& b) {
    return (a - b).norm() < 4.0 * options.spacing_px;
  };
  std::array<std::vector<Polyline2d>, kOutlineParts> parts;
  for (const OutlineSample& sample : outline_samples(camera, blank, seat, place, options)) {
    std::vector<Polyline2d>& pieces = parts[static_cast<std::size_t>(sample.part)];
    if (pieces.empty() || !meet(pieces.back().back(), sample.px)) pieces.emplace_back();
    pieces.back().push_back(sample.px);
  }
  std::vector<Polyline2d> lines;
  for (std::vector<Polyline2d>& pieces : parts) {
    // a disc's samples begin in the middle of its end
    if (pieces.size() > 1 && meet(pieces.back().back(), pieces.front().front())) {
      pieces.back().insert(pieces.back().end(), pieces.front().begin(), pieces.front().end());
      pieces.erase(pieces.begin());
    }
    lines.insert(lines.end(), pieces.begin(), pieces.end());
  }
  std::erase_if(lines, [](const Polyline2d& line) { return line.size() < 2; });
  return lines;
}

}  // namespace jigtrue
