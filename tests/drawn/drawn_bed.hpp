// Draws photos of loaded beds whose truth is known: one ray a sub-pixel, met with solids in the bed's own frame, lit by
// a sky and a lamp that blanks and grooves shade. It shares the camera's sight rays and how blanks rest with the
// program, and nothing of how outlines are predicted or measured. Quick rather than complete: blanks lie alongside one
// another, and light is worked out across them, in the plane square to their axes. tests/scenes holds photos by an
// independent ray tracer, which takes minutes.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/fixture/fixture.hpp"

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <vector>

#include <opencv2/core/mat.hpp>

namespace jigtrue::test {

using Rgb = Vector3d;  // linear light, 0 to 1

// A piece of a real surface, repeated without end.
struct Surface {
  cv::Mat3f factor;         // of the albedo, RGB, mean 1
  double px_per_mm = 10.0;  // at which the piece is laid down
  [[nodiscard]] Rgb at(const Vector2d& mm) const;
};

struct Skin {
  Rgb albedo = Rgb(0.5, 0.4, 0.3);
  double grain = 0.0;  // amplitude of streaks along the blank (or the bed's X), share of the albedo
  double gloss = 0.0;  // radiance of the lamp's reflection at its brightest
  std::shared_ptr<const Surface> surface = nullptr;
};

// What truly lies in a slot, round, turned or a plate, and how its seat truly is cut.
struct DrawnSlot {
  Vector2d seat_centre_mm = Vector2d::Zero();  // of the groove, bed
  double seat_heading_rad = 0.0;
  Seat seat;                              // top_mm must be given
  double room_mm = 1.0;                   // of a pocket beyond the blank's declared outline, on either side
  double end_room_mm = 1.0;               // of a pocket or groove, beyond either end
  BlankShape declared;                    // sizes the pocket
  std::optional<BlankShape> blank;        // none: the slot is empty
  Vector2d centre_mm = Vector2d::Zero();  // of the blank, bed
  double heading_rad = 0.0;
  Skin skin;
  // What a beam from straight above has left: the share of the light that the burned surface takes, at a bed point;
  // below 0 where it became paler. Upper surfaces only; of an empty slot, its floor.
  std::function<double(const Vector2d& bed_mm)> burn = {};
};

struct DrawnLight {
  double sky = 0.6;  // radiance of an even sky; what it leaves of 1 comes from the lamp
  Vector3d towards_lamp = Vector3d(0.2, 0.5, 1.0).normalized();  // bed
  double lamp_half_width_rad = 0.1;
  double bounce = 0.12;  // radiance of whatever stands in the light's way
};

struct DrawnBed {
  Camera camera;  // as it truly is
  std::vector<DrawnSlot> slots;
  DrawnLight light;
  Skin jig;  // its top face lies at the slots' top_mm, without end
  double exposure = 1.0;
  double blur_px = 0.7;  // Gaussian sigma, of the lens
  double noise = 0.004;  // of a mid-grey pixel, in linear light
};

// BGR, sRGB (IEC 61966-2-1). `seed`: grain and noise.
[[nodiscard]] cv::Mat3b draw(const DrawnBed& bed, std::uint32_t seed);

// The light itself, BGR, neither blurred nor noisy: what camera_chain.hpp makes a photo of.
[[nodiscard]] cv::Mat3f draw_light(const DrawnBed& bed, std::uint32_t seed);

}  // namespace jigtrue::test
