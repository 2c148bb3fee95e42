#include "inspection/burned_load.hpp"

#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/layout/proof.hpp"
#include "jigtrue/measurement/fixture_placement.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <memory>
#include <random>
#include <span>
#include <vector>

namespace jigtrue::test {
Photo photo_from(const cv::Mat3b& bgr) {
  const std::string bytes = encode_jpeg(bgr, 92);
  const auto* data = static_cast<const unsigned char*>(static_cast<const void*>(bytes.data()));
  return read_photo(EncodedPhoto{"burned.jpg", std::span<const unsigned char>(data, bytes.size())});
}

namespace {

SlotResult as_it_lies(const Slot& slot, const DrawnSlot& there) {
  SlotResult result;
  result.id = slot.id;
  result.state = SlotState::found;
  result.nominal_centre_mm = slot.centre_mm;
  result.nominal_axis_deg = slot.axis_deg;
  SlotNumbers numbers;
  numbers.centre_mm = there.centre_mm;
  numbers.axis_deg = deg_from_rad(there.heading_rad);
  numbers.offset_mm = numbers.centre_mm - slot.centre_mm;
  numbers.across_mm = numbers.offset_mm.y();
  numbers.along_mm = numbers.offset_mm.x();
  numbers.rotation_deg = numbers.axis_deg;
  if (const auto diameter = largest_diameter_mm(*there.blank)) {
    numbers.diameter_mm = *diameter;
    numbers.uncertainty.diameter_mm = 0.05;
  }
  result.numbers = numbers;
  return result;
}

}  // namespace

std::string burned_drawing() {
  return R"svg(<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="4mm" viewBox="-15 -2 30 4">
<rect x="-15" y="-0.4" width="5" height="0.8"/><rect x="-13" y="-2" width="0.8" height="4"/>
<rect x="-8.5" y="-2" width="1" height="4"/><rect x="-6.5" y="-1.4" width="1" height="2.8"/>
<rect x="-4.5" y="-0.8" width="1" height="1.6"/>
<path fill-rule="evenodd" d="M0,0a2,2 0 1 0 4,0a2,2 0 1 0 -4,0ZM0.9,0a1.1,1.1 0 1 0 2.2,0a1.1,1.1 0 1 0 -2.2,0Z"/>
<path d="M7,-2L15,0L7,1Z"/></svg>)svg";
}

bool has_ink(const Vector2d& uv_mm) {
  const double x = uv_mm.x();
  const double y = -uv_mm.y();
  const auto box = [&](double left, double top, double width, double height) {
    return x >= left && x <= left + width && y >= top && y <= top + height;
  };
  if (box(-15, -0.4, 5, 0.8) || box(-13, -2, 0.8, 4) || box(-8.5, -2, 1, 4) || box(-6.5, -1.4, 1, 2.8) ||
      box(-4.5, -0.8, 1, 1.6))
    return true;
  const double from_ring = std::hypot(x - 2.0, y);
  if (from_ring >= 1.1 && from_ring <= 2.0) return true;
  return x >= 7.0 && y >= -2.0 + (x - 7.0) / 4.0 && y <= 1.0 - (x - 7.0) / 8.0;
}

BurnedLoad burned_load(LoadKind kind, const std::vector<double>& contrasts, const Beam& beam, std::uint32_t seed,
                       const std::function<double(std::size_t, const Vector2d&)>& also) {
  BurnedLoad out;
  out.load = random_load(kind, static_cast<int>(contrasts.size()), 5.0, seed);
  std::mt19937 random(seed + 77U);
  std::uniform_real_distribution<double> within(-0.3, 0.3);
  out.laid.fixture = out.load.fixture;
  out.laid.art = common_art(read_artwork(burned_drawing(), "invented.svg"));
  const Vector2d about = common_centre_mm(out.load.fixture);
  const Eigen::Rotation2Dd turn(rad_from_deg(beam.turn_deg));
  for (std::size_t i = 0; i < contrasts.size(); ++i) {
    DrawnSlot& there = out.load.bed.slots[i];
    const Slot& slot = out.load.fixture.slots[i];
    const Vector2d placed = there.centre_mm + Vector2d(within(random), within(random));
    const double placed_deg = deg_from_rad(there.heading_rad) + 0.3 * within(random);
    out.laid.placed.push_back({slot.id, placed, placed_deg});
    const TrueMark mark{about + turn * (placed - about) + beam.shift_mm, placed_deg + beam.turn_deg, contrasts[i]};
    out.marks.push_back(mark);
    const Eigen::Rotation2Dd back(-rad_from_deg(mark.deg));
    there.skin.gloss = 0.0;  // a reflection would pale what is burned under it
    there.burn = [mark, back, i, also](const Vector2d& bed) {
      const Vector2d uv = back * (bed - mark.centre_mm);
      const double plain = has_ink(uv) ? mark.contrast : 0.0;
      return also ? std::max(plain, also(i, uv)) : plain;
    };
    out.blanks.slots.push_back(as_it_lies(slot, there));
  }
  out.photo = photo_from(draw(out.load.bed, seed));
  return out;
}

namespace {

double distance_mm(const Vector2d& point, const Vector2d& from, const Vector2d& to) {
  const double share = std::clamp((point - from).dot(to - from) / (to - from).squaredNorm(), 0.0, 1.0);
  return (point - from - share * (to - from)).norm();
}

// The lines of a proof's frame of 40 by 4 mm, in ink 0.1 mm wide.
bool on_frame(const Vector2d& uv_mm) {
  constexpr double kHalfLine_mm = 0.05;
  constexpr std::array kTurns = {0.0, 1.0, 4.0, 9.0, 15.0, 22.0, 32.0, 34.0};
  std::vector<std::array<Vector2d, 2>> lines = {
      {Vector2d(-20, -2), Vector2d(-20, 2)}, {Vector2d(20, -2), Vector2d(20, 2)}, {Vector2d(-20, 0), Vector2d(20, 0)}};
  for (std::size_t i = 1; i < kTurns.size(); ++i) {
    const double up = i % 2 == 0 ? 2.0 : -2.0;
    lines.push_back({Vector2d(40.0 * kTurns[i - 1] / 34.0 - 20.0, -up), Vector2d(40.0 * kTurns[i] / 34.0 - 20.0, up)});
  }
  return std::any_of(lines.begin(), lines.end(),
                     [&](const auto& line) { return distance_mm(uv_mm, line[0], line[1]) <= kHalfLine_mm; });
}

}  // namespace

BurnedLoad taped_load(LoadKind kind, double contrast, const Beam& beam, std::uint32_t seed) {
  BurnedLoad out = burned_load(kind, {0.0, 0.0, 0.0}, beam, seed);
  constexpr std::size_t kTaped = 1;
  out.laid.proof = true;
  out.laid.art = {};
  out.laid.placed = {out.laid.placed[kTaped]};
  out.laid.art.own[out.laid.placed.front().slot_id] = proof_frame({40.0, 4.0});
  TrueMark& mark = out.marks[kTaped];
  mark.contrast = contrast;
  const Eigen::Rotation2Dd back(-rad_from_deg(mark.deg));
  out.load.bed.slots[kTaped].burn = [mark, back](const Vector2d& bed) {
    const Vector2d uv = back * (bed - mark.centre_mm);
    const bool tape = std::abs(uv.x()) <= 26.0 && std::abs(uv.y()) <= 3.6;
    return 1.0 - (tape ? 1.4 : 1.0) * (on_frame(uv) ? 1.0 - mark.contrast : 1.0);
  };
  out.blanks.slots[kTaped].state = SlotState::doubtful;
  out.blanks.slots[kTaped].numbers.reset();
  out.photo = photo_from(draw(out.load.bed, seed));
  return out;
}

}  // namespace jigtrue::test
