// A photo of a loaded fixture with everything that its measurement takes, and what it says: the question that the
// properties alter. Photos are the demo's and those of tests/scenes; their camera is the sample calibration's.
#pragma once
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/measurement/check_photo.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>

#include <gtest/gtest.h>

namespace jigtrue::test {

inline std::filesystem::path project() { return JIGTRUE_SOURCE_DIR; }

struct LoadedBed {
  Photo photo;
  Camera camera;
  Fixture fixture;
  CheckOptions options;

  [[nodiscard]] PhotoFindings measured() const { return check_photo(photo, camera, fixture, options); }
};

inline LoadedBed loaded_bed(const std::filesystem::path& folder) {
  LoadedBed bed;
  bed.photo = read_photo(folder / "photo.jpg");
  const std::string camera = (project() / "calib/sample/camera.json").string();
  const CameraRecord record = read_camera_json(read_text_file(camera), camera);
  bed.camera = record.camera;
  bed.options.lens_error_px = record.lens.model_error_px;
  bed.fixture = read_fixture(read_text_file(folder / "fixture.json"), "fixture.json");
  return bed;
}

// Turned blanks in grooves, one slot empty; rods, tags and a disc at 0, 30 and 90 degrees.
inline LoadedBed pens() { return loaded_bed(project() / "fixtures/demo/pens"); }
inline LoadedBed mixed_kinds() { return loaded_bed(project() / "tests/scenes/small/mixed"); }

// How the plane of the bed is changed: turned, then moved; or mirrored (y to -y) first; lengths times scale.
struct PlaneMotion {
  double turn_deg = 0.0;
  Vector2d shift_mm = Vector2d::Zero();
  bool mirrored = false;
  double scale = 1.0;

  [[nodiscard]] Vector2d direction(const Vector2d& v) const {
    return Eigen::Rotation2Dd(rad_from_deg(turn_deg)) * Vector2d(v.x(), mirrored ? -v.y() : v.y()) * scale;
  }
  [[nodiscard]] Vector2d point(const Vector2d& p) const { return direction(p) + shift_mm; }
  [[nodiscard]] double angle_deg(double deg) const { return (mirrored ? -deg : deg) + turn_deg; }
};

// How far two answers may differ. Where the pixels are others: two answers that each hold the truth within u (95 %)
// lie within sqrt(u^2 + u'^2) of one another as surely, and what both err by alike makes it surer; `share` of that. A
// floor for rounding. With `refusals` either may say that it does not know.
struct Allowance {
  double share = 0.0;
  double floor = 0.0;  // mm, deg
  bool refusals = false;
  bool across_only = false;  // along is judged elsewhere
};

// The same numbers but for rounding: positions of some 1000 px are good to 1e-12 px, and a fit ends 3e-7 sigma from its
// minimum, 1e-7 mm.
inline constexpr Allowance kExact{0.0, 1e-6, false};

inline void expect_angle(double got, double want, double within, const char* what) {
  EXPECT_LE(std::abs(std::remainder(got - want, 360.0)), within) << what << ": " << got << ", must be " << want;
}

inline void expect_moved(const PhotoFindings& before, const PhotoFindings& after, const PlaneMotion& motion,
                         const Allowance& allowed) {
  ASSERT_EQ(before.slots.size(), after.slots.size());
  std::size_t measured = 0;
  std::size_t compared = 0;
  for (const SlotResult& was : before.slots) {
    const auto found =
        std::find_if(after.slots.begin(), after.slots.end(), [&](const SlotResult& s) { return s.id == was.id; });
    ASSERT_NE(found, after.slots.end());
    const SlotResult& is = *found;
    SCOPED_TRACE("slot " + was.id);
    const bool refused = is.state == SlotState::doubtful || was.state == SlotState::doubtful;
    if (!(allowed.refusals && refused)) {
      EXPECT_STREQ(to_string(is.state), to_string(was.state));
      EXPECT_EQ(is.numbers.has_value(), was.numbers.has_value());
    }
    if (was.numbers) ++measured;
    if (!is.numbers || !was.numbers) continue;
    ++compared;
    const SlotNumbers& a = *was.numbers;
    const SlotNumbers& b = *is.numbers;
    const double k = motion.scale;
    const double sign = motion.mirrored ? -1.0 : 1.0;
    const auto within = [&](double u, double scale, double u_after) {
      return allowed.share * std::hypot(scale * u, u_after) + allowed.floor;
    };
    const double across = within(a.uncertainty.across_mm, k, b.uncertainty.across_mm);
    EXPECT_NEAR(b.across_mm, sign * k * a.across_mm, across);
    if (!allowed.refusals) {
      EXPECT_EQ(a.along_mm.has_value(), b.along_mm.has_value());
    }
    if (a.along_mm && b.along_mm && !allowed.across_only) {
      const double along = within(*a.uncertainty.along_mm, k, *b.uncertainty.along_mm);
      EXPECT_NEAR(*b.along_mm, k * *a.along_mm, along);
      EXPECT_NEAR((b.centre_mm - motion.point(a.centre_mm)).norm(), 0.0, across + along);
      EXPECT_NEAR((b.offset_mm - motion.direction(a.offset_mm)).norm(), 0.0, across + along);
    }
    const double turn = within(a.uncertainty.rotation_deg, 1.0, b.uncertainty.rotation_deg);
    expect_angle(b.rotation_deg, sign * a.rotation_deg, turn, "rotation");
    expect_angle(b.axis_deg, motion.angle_deg(a.axis_deg), turn, "axis");
    ASSERT_EQ(a.diameter_mm.has_value(), b.diameter_mm.has_value());
    if (a.diameter_mm) {
      EXPECT_NEAR(*b.diameter_mm, k * *a.diameter_mm,
                  within(*a.uncertainty.diameter_mm, k, *b.uncertainty.diameter_mm));
    }
    if (allowed.share > 0.0) continue;
    EXPECT_NEAR(b.uncertainty.across_mm, k * a.uncertainty.across_mm, allowed.floor);
    EXPECT_NEAR(b.uncertainty.along_mm.value_or(0.0), k * a.uncertainty.along_mm.value_or(0.0), allowed.floor);
    EXPECT_NEAR(b.uncertainty.rotation_deg, a.uncertainty.rotation_deg, allowed.floor);
  }
  // to refuse is no wrong answer, but where most slots are refused nothing has been compared
  EXPECT_GE(2 * compared, measured);
}

// Every number to its last bit, drawings included.
inline void expect_bit_equal(const PhotoFindings& a, const PhotoFindings& b) {
  ASSERT_EQ(a.slots.size(), b.slots.size());
  for (std::size_t i = 0; i < a.slots.size(); ++i) {
    SCOPED_TRACE("slot " + a.slots[i].id);
    EXPECT_EQ(a.slots[i].state, b.slots[i].state);
    EXPECT_EQ(a.slots[i].reasons, b.slots[i].reasons);
    EXPECT_EQ(a.slots[i].sketch.outline, b.slots[i].sketch.outline);
    ASSERT_EQ(a.slots[i].numbers.has_value(), b.slots[i].numbers.has_value());
    if (!a.slots[i].numbers) continue;
    const SlotNumbers& p = *a.slots[i].numbers;
    const SlotNumbers& q = *b.slots[i].numbers;
    EXPECT_EQ(p.centre_mm, q.centre_mm);
    EXPECT_EQ(p.across_mm, q.across_mm);
    EXPECT_EQ(p.along_mm, q.along_mm);
    EXPECT_EQ(p.rotation_deg, q.rotation_deg);
    EXPECT_EQ(p.diameter_mm, q.diameter_mm);
    EXPECT_EQ(p.uncertainty.across_mm, q.uncertainty.across_mm);
    EXPECT_EQ(p.uncertainty.along_mm, q.uncertainty.along_mm);
    EXPECT_EQ(p.uncertainty.rotation_deg, q.uncertainty.rotation_deg);
    EXPECT_EQ(p.uncertainty.diameter_mm, q.uncertainty.diameter_mm);
  }
}

}  // namespace jigtrue::test
