#include "drawn/drawn_bed.hpp"

#include "jigtrue/base/in_parallel.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "drawn/light_across.hpp"
#include <opencv2/imgproc.hpp>

namespace jigtrue::test {
namespace {

// Values at equal steps, straight between them, the last ones beyond the ends.
struct Table {
  double from = 0.0;
  double step = 1.0;
  std::vector<double> values;

  [[nodiscard]] double at(double x) const {
    const double place = std::clamp((x - from) / step, 0.0, static_cast<double>(values.size() - 1));
    const auto i = std::min(static_cast<std::size_t>(place), values.size() - 2);
    const double share = place - static_cast<double>(i);
    return (1.0 - share) * values[i] + share * values[i + 1];
  }
};

template <class Function>
Table tabulated(double from, double to, double step, Function&& function) {
  Table table{from, step, {}};
  const auto count = static_cast<std::size_t>(std::ceil((to - from) / step)) + 2;
  for (std::size_t i = 0; i < count; ++i) table.values.push_back(function(from + static_cast<double>(i) * step));
  return table;
}

// Smooth noise of one octave, mean 0, about -1 to 1: lattice values by a hash, a cubic between them (Perlin 1985's
// value noise).
double hashed(std::uint32_t x, std::uint32_t y, std::uint32_t seed) {
  std::uint32_t h = x * 0x9E3779B1U ^ y * 0x85EBCA77U ^ seed * 0xC2B2AE3DU;
  h ^= h >> 15U;
  h *= 0x2C1B3C6DU;
  h ^= h >> 12U;
  h *= 0x297A2D39U;
  h ^= h >> 15U;
  return static_cast<double>(h) / 2147483647.5 - 1.0;
}
double noise_at(double x, double y, std::uint32_t seed) {
  const double x0 = std::floor(x);
  const double y0 = std::floor(y);
  const auto smooth = [](double t) { return t * t * (3.0 - 2.0 * t); };
  const auto corner = [&](double dx, double dy) {
    return hashed(static_cast<std::uint32_t>(static_cast<std::int64_t>(x0 + dx)),
                  static_cast<std::uint32_t>(static_cast<std::int64_t>(y0 + dy)), seed);
  };
  const double tx = smooth(x - x0);
  const double ty = smooth(y - y0);
  return (corner(0, 0) * (1 - tx) + corner(1, 0) * tx) * (1 - ty) + (corner(0, 1) * (1 - tx) + corner(1, 1) * tx) * ty;
}
// Streaks along x, a few tenths of a millimetre wide and tens long, with broader ones under them.
double grain_at(double x_mm, double y_mm, std::uint32_t seed) {
  return 0.5 * noise_at(x_mm / 25.0, y_mm / 0.5, seed) + 0.5 * noise_at(x_mm / 60.0, y_mm / 2.5, seed + 7U);
}

// One slot made ready: frames, what its seat looks like across, tables of light.
class ReadySlot {
 public:
  ReadySlot(const DrawnBed& bed, std::size_t index, std::uint32_t seed)
      : slot_(bed.slots[index]), light_(bed.light), seed_(seed + 101U * static_cast<std::uint32_t>(index)) {
    along_ = {std::cos(slot_.seat_heading_rad), std::sin(slot_.seat_heading_rad)};
    across_ = {-along_.y(), along_.x()};
    top_mm_ = slot_.seat.top_mm.value_or(0.0);
    half_length_mm_ = 0.5 * length_mm(slot_.declared) + slot_.end_room_mm;
    if (const auto* vee = std::get_if<VeeSeat>(&slot_.seat.kind)) {
      floor_mm_ = vee->bottom_mm;
      slope_ = 1.0 / std::tan(rad_from_deg(0.5 * vee->angle_deg));
      half_width_mm_ = (top_mm_ - floor_mm_) / slope_;
    } else {
      floor_mm_ = std::get<FloorSeat>(slot_.seat.kind).height_mm;
      half_width_mm_ = 0.5 * largest_girth_mm(slot_.declared) + slot_.room_mm;
    }
    lamp_across_ = {light_.towards_lamp.dot(Vector3d(across_.x(), across_.y(), 0.0)), light_.towards_lamp.z()};
    lamp_along_ = {light_.towards_lamp.dot(Vector3d(along_.x(), along_.y(), 0.0)), light_.towards_lamp.z()};
    place_blank();
    light_surfaces();
  }

  // How far a point of the top face lies beside the slot's cut.
  [[nodiscard]] double beside_mm(const Vector2d& at) const {
    const Vector2d p = at - slot_.seat_centre_mm;
    return std::max({std::abs(p.dot(along_)) - half_length_mm_, std::abs(p.dot(across_)) - half_width_mm_, 0.0});
  }

  [[nodiscard]] Rgb look(const SightRay& ray, const Skin& jig) const {
    if (slot_.blank) {
      if (const auto colour = is_flat(*slot_.blank) ? look_at_plate(ray) : look_at_rod(ray)) return *colour;
    }
    return look_at_seat(ray, jig);
  }

 private:
  const DrawnSlot& slot_;
  DrawnLight light_;
  std::uint32_t seed_;
  Vector2d along_, across_;
  Vector2d lamp_across_, lamp_along_;
  double top_mm_ = 0.0, floor_mm_ = 0.0, half_length_mm_ = 0.0, half_width_mm_ = 0.0;
  double slope_ = 0.0;  // of a vee's sides, rise over run; 0: a pocket
  // the blank
  std::vector<Vector2d> profile_;
  double widest_mm_ = 0.0;
  Vector3d start_ = Vector3d::Zero(), axis_ = Vector3d::UnitX(), sideways_ = Vector3d::UnitY();
  double axis_height_mm_ = 0.0;     // at the middle
  std::vector<Table> round_light_;  // by the normal's angle from +across, one a station of the profile
  Table seat_light_, empty_seat_light_, wall_light_;
  Table seat_light_along_;  // under a plate's ends, as a share of the open floor's
  double open_floor_ = 1.0;
  std::array<double, 2> cap_light_{};  // of faces that look back and forward

  [[nodiscard]] double surface_mm(double v) const {
    const double a = std::abs(v);
    if (a >= half_width_mm_) return top_mm_;
    return slope_ > 0.0 ? floor_mm_ + slope_ * a : floor_mm_;
  }
  [[nodiscard]] Vector2d surface_normal(double v) const {
    if (std::abs(v) >= half_width_mm_ || slope_ <= 0.0) return {0.0, 1.0};
    return Vector2d(v > 0.0 ? -slope_ : slope_, 1.0).normalized();
  }

  void place_blank() {
    if (!slot_.blank || is_flat(*slot_.blank)) return;
    profile_ = radius_profile(*slot_.blank);
    for (const Vector2d& point : profile_) widest_mm_ = std::max(widest_mm_, point.y());
    const AxisLine line = resting_axis(*slot_.blank, slot_.seat);
    const double length = profile_.back().x();
    const Vector2d way(std::cos(slot_.heading_rad), std::sin(slot_.heading_rad));
    axis_ = Vector3d(way.x() * std::cos(line.tilt_rad), way.y() * std::cos(line.tilt_rad), std::sin(line.tilt_rad));
    sideways_ = Vector3d(-way.y(), way.x(), 0.0);
    axis_height_mm_ = line.height_at_start_mm + 0.5 * length * std::sin(line.tilt_rad);
    start_ = Vector3d(slot_.centre_mm.x(), slot_.centre_mm.y(), axis_height_mm_) - 0.5 * length * axis_;
  }

  [[nodiscard]] double radius_at(double t) const {
    for (std::size_t i = 1; i < profile_.size(); ++i)
      if (t <= profile_[i].x())
        return profile_[i - 1].y() + (profile_[i].y() - profile_[i - 1].y()) * (t - profile_[i - 1].x()) /
                                         (profile_[i].x() - profile_[i - 1].x());
    return profile_.back().y();
  }

  static constexpr std::size_t kStations = 5;
  [[nodiscard]] double station_mm(std::size_t i) const {
    return profile_.back().x() * (static_cast<double>(i) + 0.5) / kStations;
  }

  [[nodiscard]] Profile seat_profile() const {
    const double far = half_width_mm_ + 60.0;
    Profile profile;
    const auto wall = [&](double v0, double z0, double v1, double z1) {
      profile.walls.push_back({Vector2d(v0, z0), Vector2d(v1, z1)});
    };
    for (const double side : {-1.0, 1.0}) {
      wall(side * half_width_mm_, top_mm_, side * far, top_mm_);
      if (slope_ > 0.0)
        wall(0.0, floor_mm_, side * half_width_mm_, top_mm_);
      else
        wall(side * half_width_mm_, floor_mm_, side * half_width_mm_, top_mm_);
    }
    return profile;
  }

  void light_surfaces() {
    constexpr double kStep_mm = 0.1;
    const Profile empty = seat_profile();
    const double reach = half_width_mm_ + 25.0;
    const auto floor_of = [&](const Profile& profile) {
      return tabulated(-reach, reach, kStep_mm, [&](double v) {
        return irradiance(profile, light_, lamp_across_, {v, surface_mm(v)}, surface_normal(v));
      });
    };
    empty_seat_light_ = floor_of(empty);
    open_floor_ = std::max(empty_seat_light_.at(reach), 1e-6);
    Profile loaded = empty;
    const Vector2d off = slot_.centre_mm - slot_.seat_centre_mm;
    const double v0 = off.dot(across_);
    if (slot_.blank && is_flat(*slot_.blank)) {
      const auto& plate = std::get<PlateBlank>(*slot_.blank);
      const double bottom = top_face_mm(plate, slot_.seat) - plate.thickness_mm;
      loaded.walls.push_back({Vector2d(v0 - 0.5 * plate.height_mm, bottom),
                              Vector2d(v0 - 0.5 * plate.height_mm, bottom + plate.thickness_mm)});
      loaded.walls.push_back({Vector2d(v0 + 0.5 * plate.height_mm, bottom),
                              Vector2d(v0 + 0.5 * plate.height_mm, bottom + plate.thickness_mm)});
    } else if (slot_.blank) {
      for (std::size_t i = 0; i < kStations; ++i) {
        const double t = station_mm(i);
        const Vector2d axis_at(v0, (start_ + t * axis_).z());
        const double radius = radius_at(t);
        round_light_.push_back(tabulated(-kPi, kPi, kPi / 180.0, [&](double angle) {
          const Vector2d normal(std::cos(angle), std::sin(angle));
          return irradiance(empty, light_, lamp_across_, axis_at + radius * normal, normal);
        }));
      }
      loaded.rods.push_back({Vector2d(v0, axis_height_mm_), radius_at(0.5 * profile_.back().x())});
    }
    seat_light_ = floor_of(loaded);
    wall_light_ = tabulated(floor_mm_, top_mm_ + 0.1, 0.25, [&](double z) {
      return 0.5 * (irradiance(loaded, light_, lamp_across_, {-half_width_mm_, z}, {1.0, 0.0}) +
                    irradiance(loaded, light_, lamp_across_, {half_width_mm_, z}, {-1.0, 0.0}));
    });
    light_ends();
  }

  // Square to the ends: a wall of the blank's height at either end, and the pocket's.
  void light_ends() {
    Profile along;
    const double u0 = (slot_.centre_mm - slot_.seat_centre_mm).dot(along_);
    const double half = 0.5 * length_mm(slot_.blank ? *slot_.blank : slot_.declared);
    const double high = !slot_.blank            ? floor_mm_
                        : is_flat(*slot_.blank) ? top_face_mm(*slot_.blank, slot_.seat)
                                                : axis_height_mm_ + radius_at(half);
    for (const double side : {-1.0, 1.0}) {
      along.walls.push_back({Vector2d(u0 + side * half, floor_mm_), Vector2d(u0 + side * half, high)});
      along.walls.push_back({Vector2d(side * half_length_mm_, floor_mm_), Vector2d(side * half_length_mm_, top_mm_)});
    }
    const double reach = half_length_mm_ + 5.0;
    seat_light_along_ = tabulated(-reach, reach, 0.2, [&](double u) {
      return irradiance(along, light_, lamp_along_, {u, std::abs(u) < half_length_mm_ ? floor_mm_ : top_mm_},
                        {0.0, 1.0}) /
             open_floor_;
    });
    for (const int side : {0, 1}) {
      const double way = side == 0 ? -1.0 : 1.0;
      cap_light_[static_cast<std::size_t>(side)] =
          irradiance(along, light_, lamp_along_, {u0 + way * half, 0.5 * (floor_mm_ + high)}, {way, 0.0});
    }
  }

  [[nodiscard]] Rgb with_skin(const Skin& skin, double light, double x, double y) const {
    const double streak = skin.grain > 0.0 ? skin.grain * grain_at(x, y, seed_) : 0.0;
    const Rgb evenly = skin.albedo * (light * (1.0 + streak));
    return skin.surface ? Rgb(evenly.cwiseProduct(skin.surface->at({x, y}))) : evenly;
  }

  [[nodiscard]] std::optional<Rgb> look_at_rod(const SightRay& ray) const {
    const Vector3d& eye = ray.origin_mm;
    const Vector3d& way = ray.direction;
    const double s0 = (eye - start_).dot(axis_);
    const double ds = way.dot(axis_);
    const Vector3d q0 = eye - start_ - s0 * axis_;
    const Vector3d dq = way - ds * axis_;
    // most rays pass by
    const double towards = q0.dot(dq);
    if (q0.squaredNorm() - towards * towards / dq.squaredNorm() > widest_mm_ * widest_mm_) return std::nullopt;
    double nearest = std::numeric_limits<double>::infinity();
    double station = 0.0;
    double slope = 0.0;
    int cap = -1;
    for (std::size_t i = 1; i < profile_.size(); ++i) {
      const Vector2d& from = profile_[i - 1];
      const Vector2d& to = profile_[i];
      const double k = (to.y() - from.y()) / (to.x() - from.x());
      const double r0 = from.y() + k * (s0 - from.x());
      const double dr = k * ds;
      const double a = dq.squaredNorm() - dr * dr;
      const double b = q0.dot(dq) - r0 * dr;
      const double c = q0.squaredNorm() - r0 * r0;
      const double root = b * b - a * c;
      if (root < 0.0) continue;
      const double t = (-b - std::sqrt(root)) / a;
      const double s = s0 + t * ds;
      if (t <= 0.0 || t >= nearest || s < from.x() || s > to.x()) continue;
      nearest = t;
      station = s;
      slope = k;
    }
    for (const int side : {0, 1}) {
      const Vector2d& face = side == 0 ? profile_.front() : profile_.back();
      if (std::abs(ds) < 1e-9 || (side == 0) != (ds > 0.0)) continue;
      const double t = (face.x() - s0) / ds;
      if (t <= 0.0 || t >= nearest || (q0 + t * dq).norm() > face.y()) continue;
      nearest = t;
      cap = side;
    }
    if (!std::isfinite(nearest)) return std::nullopt;
    const Vector3d q = q0 + nearest * dq;
    if (cap >= 0) return with_skin(slot_.skin, cap_light_[static_cast<std::size_t>(cap)], q.dot(sideways_), q.z());
    const double angle = std::atan2(q.z(), q.dot(sideways_));
    const double place = std::clamp(station / profile_.back().x() * kStations - 0.5, 0.0, kStations - 1.0);
    const auto i = std::min(static_cast<std::size_t>(place), kStations - 2);
    const double share = place - static_cast<double>(i);
    const double light = (1.0 - share) * round_light_[i].at(angle) + share * round_light_[i + 1].at(angle);
    const double radius = q.norm();
    Rgb colour = with_skin(slot_.skin, light, station, radius * angle);
    if (slot_.burn && q.z() > 0.0) colour *= 1.0 - slot_.burn((eye + nearest * way).head<2>());
    if (slot_.skin.gloss > 0.0) {
      const Vector3d normal = (q / radius - slope * axis_).normalized();
      const Vector3d half_way = (light_.towards_lamp - way.normalized()).normalized();
      colour += Rgb::Constant(slot_.skin.gloss * std::pow(std::max(normal.dot(half_way), 0.0), 60.0));
    }
    return colour;
  }

  [[nodiscard]] std::optional<Rgb> look_at_plate(const SightRay& ray) const {
    const auto& plate = std::get<PlateBlank>(*slot_.blank);
    const Vector2d u(std::cos(slot_.heading_rad), std::sin(slot_.heading_rad));
    const Vector2d v(-u.y(), u.x());
    const double top = top_face_mm(plate, slot_.seat);
    const Vector2d eye = ray.origin_mm.head<2>() - slot_.centre_mm;
    const Vector3d from(eye.dot(u), eye.dot(v), ray.origin_mm.z() - top);
    const Vector2d flat = ray.direction.head<2>();
    const Vector3d way(flat.dot(u), flat.dot(v), ray.direction.z());
    const Vector3d half(0.5 * plate.width_mm, 0.5 * plate.height_mm, 0.0);
    // slabs (Kay & Kajiya 1986): the box from -thickness to 0
    double enter = -std::numeric_limits<double>::infinity();
    double leave = std::numeric_limits<double>::infinity();
    int face = -1;
    for (const int i : {0, 1, 2}) {
      const double low = i == 2 ? -plate.thickness_mm : -half[i];
      const double high = i == 2 ? 0.0 : half[i];
      const double a = (low - from[i]) / way[i];
      const double b = (high - from[i]) / way[i];
      if (std::min(a, b) > enter) {
        enter = std::min(a, b);
        face = i;
      }
      leave = std::min(leave, std::max(a, b));
    }
    if (enter > leave || enter <= 0.0) return std::nullopt;
    const Vector3d at = from + enter * way;
    const double light = face == 2   ? open_floor_
                         : face == 0 ? cap_light_[at.x() > 0.0 ? 1 : 0]
                                     : wall_light_.at(at.z() + top);
    const Rgb colour = with_skin(slot_.skin, light, at.x(), at.y());
    if (!slot_.burn || face != 2) return colour;
    return colour * (1.0 - slot_.burn((ray.origin_mm + enter * ray.direction).head<2>()));
  }

  [[nodiscard]] Rgb look_at_seat(const SightRay& ray, const Skin& jig) const {
    const auto at_height = [&](double z) {
      const double t = (z - ray.origin_mm.z()) / ray.direction.z();
      const Vector2d p = (ray.origin_mm + t * ray.direction).head<2>() - slot_.seat_centre_mm;
      return Vector2d(p.dot(along_), p.dot(across_));
    };
    const Vector2d above = at_height(top_mm_);
    if (std::abs(above.x()) >= half_length_mm_ || std::abs(above.y()) >= half_width_mm_)
      return with_skin(jig, seat_light(above), above.x(), above.y());
    const Vector2d below = at_height(floor_mm_);
    const Vector2d step = below - above;  // over a fall of top - floor
    const double depth = top_mm_ - floor_mm_;
    // how far down, 0 to 1, until a wall across or an end is met
    double fall = 1.0;
    if (slope_ > 0.0) {
      for (const double side : {-1.0, 1.0}) {
        // the side plane: z = floor + slope * side * v
        const double closing = depth + slope_ * side * step.y();
        if (closing > 0.0) fall = std::min(fall, (depth - slope_ * side * above.y()) / closing);
      }
    } else {
      for (const double side : {-1.0, 1.0})
        if (side * step.y() > 0.0) fall = std::min(fall, (half_width_mm_ - side * above.y()) / (side * step.y()));
    }
    double to_end = 2.0;
    for (const double side : {-1.0, 1.0})
      if (side * step.x() > 0.0) to_end = std::min(to_end, (half_length_mm_ - side * above.x()) / (side * step.x()));
    const Vector2d met = above + std::min(fall, to_end) * step;
    const double z = top_mm_ - std::min(fall, to_end) * depth;
    const bool on_wall = to_end < fall || (slope_ <= 0.0 && fall < 1.0);
    // a beam that finds no blank burns the slot's floor
    if (slot_.burn && !slot_.blank && !on_wall) {
      const Vector2d bed = slot_.seat_centre_mm + met.x() * along_ + met.y() * across_;
      return with_skin(jig, seat_light(met), met.x(), met.y() + z) * (1.0 - slot_.burn(bed));
    }
    return with_skin(jig, on_wall ? wall_light_.at(z) : seat_light(met), met.x(), met.y() + z);
  }

  // Beside the blank as across it; beyond its ends as in the empty slot, dimmed by what stands there.
  [[nodiscard]] double seat_light(const Vector2d& at) const {
    if (std::abs(at.x()) >= half_length_mm_) return open_floor_;
    if (!slot_.blank) return empty_seat_light_.at(at.y());
    const double u0 = (slot_.centre_mm - slot_.seat_centre_mm).dot(along_);
    const double half = 0.5 * length_mm(*slot_.blank);
    const double beyond = std::clamp((std::abs(at.x() - u0) - half) / 4.0 + 0.5, 0.0, 1.0);
    const double dimmed = std::abs(at.y()) < half_width_mm_ ? std::min(seat_light_along_.at(at.x()), 1.0) : 1.0;
    return (1.0 - beyond) * seat_light_.at(at.y()) + beyond * empty_seat_light_.at(at.y()) * dimmed;
  }
};

// Sight rays at every eighth pixel, bent straight between: to a thousandth of a pixel under any lens drawn with here.
class Rays {
 public:
  static constexpr double kBeside = 7.0;  // how far beside the picture at() reaches

  explicit Rays(const Camera& camera) : eye_(camera.centre_mm()), columns_(nodes_over(camera.lens.width_px)) {
    const int rows = nodes_over(camera.lens.height_px);
    for (int r = 0; r < rows; ++r)
      for (int c = 0; c < columns_; ++c) {
        const auto ray = sight_ray(camera, {kStep * (c - 1.0), kStep * (r - 1.0)});
        ways_.push_back(ray ? Vector3d(ray->direction / -ray->direction.z()) : Vector3d(0.0, 0.0, -1.0));
      }
  }
  [[nodiscard]] SightRay at(double x, double y) const {
    const double gx = x / kStep + 1.0;
    const double gy = y / kStep + 1.0;
    const auto c = static_cast<int>(gx);
    const auto r = static_cast<int>(gy);
    const double tx = gx - c;
    const double ty = gy - r;
    const auto way = [&](int dr, int dc) -> const Vector3d& {
      return ways_[static_cast<std::size_t>(r + dr) * static_cast<std::size_t>(columns_) +
                   static_cast<std::size_t>(c + dc)];
    };
    return {eye_, ((1 - ty) * ((1 - tx) * way(0, 0) + tx * way(0, 1)) + ty * ((1 - tx) * way(1, 0) + tx * way(1, 1)))};
  }

 private:
  static constexpr int kStep = 8;
  // from one step before the picture to beyond kBeside px behind it
  static int nodes_over(int pixels) { return (pixels + static_cast<int>(kBeside)) / kStep + 3; }
  Vector3d eye_;
  int columns_;
  std::vector<Vector3d> ways_;
};

// sRGB (IEC 61966-2-1) of linear light, 0 to 255, looked up.
class Encoded {
 public:
  Encoded() {
    for (std::size_t i = 0; i < levels_.size(); ++i) {
      const double x = static_cast<double>(i) / static_cast<double>(levels_.size() - 1);
      levels_[i] = static_cast<float>(255.0 * (x <= 0.0031308 ? 12.92 * x : 1.055 * std::pow(x, 1.0 / 2.4) - 0.055));
    }
  }
  [[nodiscard]] uchar of(float linear) const {
    const float place = std::clamp(linear, 0.0F, 1.0F) * static_cast<float>(levels_.size() - 1);
    return cv::saturate_cast<uchar>(levels_[static_cast<std::size_t>(std::lround(place))]);
  }

 private:
  std::array<float, 16385> levels_{};
};

// Where a pixel differs from a neighbour an edge may pass through it: then more rays are averaged.
template <class SeenAt>
cv::Mat3f with_finer_edges(const cv::Mat3f& light, SeenAt&& seen_at) {
  constexpr int kRays = 4;  // across and down
  constexpr float kDiffers = 0.04F;
  const auto differ = [&](const cv::Vec3f& a, const cv::Vec3f& b) {
    for (int i = 0; i < 3; ++i)
      if (std::abs(a[i] - b[i]) > kDiffers * (a[i] + b[i])) return true;
    return false;
  };
  cv::Mat3f finer = light.clone();
  for (int r = 0; r < light.rows; ++r) {
    for (int c = 0; c < light.cols; ++c) {
      const cv::Vec3f& own = light(r, c);
      if (!(c > 0 && differ(own, light(r, c - 1))) && !(c + 1 < light.cols && differ(own, light(r, c + 1))) &&
          !(r > 0 && differ(own, light(r - 1, c))) && !(r + 1 < light.rows && differ(own, light(r + 1, c))))
        continue;
      cv::Vec3f sum(0.0F, 0.0F, 0.0F);
      for (int i = 0; i < kRays; ++i)
        for (int j = 0; j < kRays; ++j) sum += seen_at(c, r, (i + 0.5) / kRays - 0.5, (j + 0.5) / kRays - 0.5);
      finer(r, c) = sum * (1.0F / (kRays * kRays));
    }
  }
  return finer;
}

// The noise of rows from `first` on, a multiple of the rows that are drawn from one seed.
cv::Mat3f noise_of(double sigma, int first, const cv::Size& size, std::uint32_t seed) {
  constexpr int kRowsOfSeed = 32;
  cv::Mat3f noise(size);
  for (int row = 0; row < size.height; row += kRowsOfSeed) {
    cv::Mat3f some = noise.rowRange(row, std::min(row + kRowsOfSeed, size.height));
    cv::RNG random(seed * 7919ULL + static_cast<std::uint64_t>((first + row) / kRowsOfSeed));
    random.fill(some, cv::RNG::NORMAL, 0.0, sigma);
  }
  return noise;
}

// What the sensor's plane gets, before any blur: pixel by pixel, BGR.
class Scene {
 public:
  Scene(const DrawnBed& bed, std::uint32_t seed)
      : bed_(bed),
        rays_(bed.camera),
        top_mm_(bed.slots.front().seat.top_mm.value_or(0.0)),
        size_(bed.camera.lens.width_px, bed.camera.lens.height_px) {
    for (std::size_t i = 0; i < bed.slots.size(); ++i) slots_.emplace_back(bed, i, seed);
  }

  // Rows `first` to `first + rows`, and `halo` pixels on all sides of them.
  [[nodiscard]] cv::Mat3f light(int first, int rows, int halo) const {
    const ReadySlot* last = &slots_.front();
    const auto seen_at = [&](double x, double y) {
      const SightRay ray = rays_.at(std::clamp(x, -Rays::kBeside, size_.width + Rays::kBeside),
                                    std::clamp(y, -Rays::kBeside, size_.height + Rays::kBeside));
      const double t = (top_mm_ - ray.origin_mm.z()) / ray.direction.z();
      const Vector2d at = (ray.origin_mm + t * ray.direction).head<2>();
      const Rgb colour = bed_.exposure * nearest_to(at, last).look(ray, bed_.jig);
      return cv::Vec3f(static_cast<float>(colour.z()), static_cast<float>(colour.y()), static_cast<float>(colour.x()));
    };
    cv::Mat3f light(rows + 2 * halo, size_.width + 2 * halo);
    for (int r = 0; r < light.rows; ++r)
      for (int c = 0; c < light.cols; ++c) light(r, c) = seen_at(c - halo, r - halo + first);
    return with_finer_edges(
        light, [&](int c, int r, double dx, double dy) { return seen_at(c - halo + dx, r - halo + first + dy); });
  }

  // Calls work(first, rows) for strips that make up the picture.
  template <class Work>
  void in_strips(Work&& work) const {
    constexpr int kRows = 128;
    in_parallel(static_cast<std::size_t>((size_.height + kRows - 1) / kRows), 2, [&](std::size_t strip, std::size_t) {
      const int first = static_cast<int>(strip) * kRows;
      work(first, std::min(kRows, size_.height - first));
    });
  }

  [[nodiscard]] const cv::Size& size() const { return size_; }

 private:
  const DrawnBed& bed_;
  Rays rays_;
  double top_mm_;
  cv::Size size_;
  std::vector<ReadySlot> slots_;

  // `last`: the one of the place before, tried first.
  [[nodiscard]] const ReadySlot& nearest_to(const Vector2d& at, const ReadySlot*& last) const {
    double least_mm = last->beside_mm(at);
    if (!(least_mm > 0.0)) return *last;
    last = &slots_.front();
    least_mm = last->beside_mm(at);
    for (const ReadySlot& slot : slots_) {
      const double beside_mm = slot.beside_mm(at);
      if (beside_mm >= least_mm) continue;
      least_mm = beside_mm;
      last = &slot;
    }
    return *last;
  }
};

}  // namespace

cv::Mat3b draw(const DrawnBed& bed, std::uint32_t seed) {
  const Scene scene(bed, seed);
  static const Encoded encoded;
  const int halo = static_cast<int>(std::ceil(4.0 * bed.blur_px)) + 1;
  cv::Mat3b picture(scene.size());
  scene.in_strips([&](int first, int rows) {
    cv::Mat3f pixels;
    cv::GaussianBlur(scene.light(first, rows, halo), pixels, {}, std::max(bed.blur_px, 0.01));
    const cv::Mat3f noise = noise_of(bed.noise, first, {picture.cols, rows}, seed);
    for (int r = 0; r < rows; ++r)
      for (int c = 0; c < picture.cols; ++c)
        for (int channel = 0; channel < 3; ++channel) {
          const float level = pixels(r + halo, c + halo)[channel];
          // photons: the noise grows as the root of the light, above a floor of the sensor's own
          const float grows = std::sqrt(std::max(level, 0.0F) / 0.2F + 0.1F);
          picture(first + r, c)[channel] = encoded.of(level + grows * noise(r, c)[channel]);
        }
  });
  return picture;
}

cv::Mat3f draw_light(const DrawnBed& bed, std::uint32_t seed) {
  const Scene scene(bed, seed);
  cv::Mat3f picture(scene.size());
  scene.in_strips([&](int first, int rows) {
    constexpr int kHalo = 1;  // a pixel's neighbours tell whether an edge passes through it
    scene.light(first, rows, kHalo)(cv::Rect(kHalo, kHalo, picture.cols, rows))
        .copyTo(picture.rowRange(first, first + rows));
  });
  return picture;
}

}  // namespace jigtrue::test
