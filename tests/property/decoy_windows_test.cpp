// Where no blank lies none is found: slots declared at places drawn by chance on traced photos (tests/scenes), over
// ribs, empty grooves, bare bed, shadows and the fixture's edges. Nine photos of 112 windows each: with none of 1,008
// accepted, fewer than 3 in 1,000 are (95 %, the rule of three: Hanley & Lippman-Hand, JAMA 249 (1983) 1743).
#include "jigtrue/measurement/prepare_photo.hpp"
#include "support/seeded_by_name.hpp"

#include <array>
#include <fstream>
#include <optional>
#include <random>
#include <vector>

#include "property/loaded_bed.hpp"
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue::test {
namespace {

// A rectangle on the bed: what a blank covers, or what the search for one looks at.
struct Patch {
  Vector2d centre_mm;
  double angle_rad;
  double half_length_mm;
  double half_width_mm;

  [[nodiscard]] std::array<Vector2d, 4> corners_mm() const {
    const Vector2d along = half_length_mm * Vector2d(std::cos(angle_rad), std::sin(angle_rad));
    const Vector2d across = half_width_mm * Vector2d(-std::sin(angle_rad), std::cos(angle_rad));
    return {centre_mm + along + across, centre_mm + along - across, centre_mm - along - across,
            centre_mm - along + across};
  }
};

// By the separating axes of two rectangles.
bool apart(const Patch& a, const Patch& b) {
  for (const double angle : {a.angle_rad, a.angle_rad + kPi / 2.0, b.angle_rad, b.angle_rad + kPi / 2.0}) {
    const Vector2d axis(std::cos(angle), std::sin(angle));
    const auto reach = [&](const Patch& patch) {
      std::array<double, 4> along{};
      const auto corners = patch.corners_mm();
      std::transform(corners.begin(), corners.end(), along.begin(), [&](const Vector2d& c) { return c.dot(axis); });
      const auto [least, most] = std::minmax_element(along.begin(), along.end());
      return std::pair(*least, *most);
    };
    const auto [a_from, a_to] = reach(a);
    const auto [b_from, b_to] = reach(b);
    if (a_to < b_from || b_to < a_from) return true;
  }
  return false;
}

double width_mm(const BlankShape& shape) {
  if (const auto* plate = std::get_if<PlateBlank>(&shape)) return plate->height_mm;
  if (const auto* disc = std::get_if<DiscBlank>(&shape)) return disc->diameter_mm;
  double widest = 0.0;
  for (const Vector2d& point : radius_profile(shape)) widest = std::max(widest, 2.0 * point.y());
  return widest;
}

Patch covered(const Slot& slot, double margin_along_mm, double margin_across_mm) {
  return {slot.centre_mm, rad_from_deg(slot.axis_deg), length_mm(slot.blank.shape) / 2.0 + margin_along_mm,
          width_mm(slot.blank.shape) / 2.0 + margin_across_mm};
}

std::vector<Patch> real_blanks(const Fixture& fixture, const std::filesystem::path& truth_file) {
  std::ifstream stream(truth_file);
  const nlohmann::json truth = nlohmann::json::parse(stream);
  std::vector<Patch> blanks;
  for (std::size_t i = 0; i < fixture.slots.size(); ++i) {
    const nlohmann::json& real = truth["slots"][i];
    if (real["state"] == "empty") continue;
    Slot slot = fixture.slots[i];
    slot.centre_mm = Vector2d(real["centre_mm"][0], real["centre_mm"][1]);
    slot.axis_deg = real["axis_deg"];
    blanks.push_back(covered(slot, 1.0, 1.0));
  }
  return blanks;
}

// What the search for a blank may look at: its reach along and across, and what its turn adds at the ends.
Patch searched(const Slot& slot) {
  const SearchRange range;
  const double swing_mm = length_mm(slot.blank.shape) / 2.0 * std::sin(rad_from_deg(range.turn_deg));
  return covered(slot, range.along_mm, range.across_mm + swing_mm);
}

bool in_picture(const Camera& camera, const Patch& patch) {
  for (const Vector2d& corner : patch.corners_mm()) {
    const auto px = project_bed_point(camera, {corner.x(), corner.y(), 0.0});
    if (!px || px->minCoeff() < 0.0 || px->x() > camera.lens.width_px - 1.0 || px->y() > camera.lens.height_px - 1.0)
      return false;
  }
  return true;
}

// A slot like one of the fixture's, at a place where no blank is in reach of its search; nothing if it fell on one.
std::optional<Slot> drawn_decoy(const LoadedBed& bed, const std::vector<Patch>& blanks, std::mt19937_64& random) {
  constexpr double kAround_mm = 60.0;
  const std::vector<Slot>& slots = bed.fixture.slots;
  Vector2d low = slots.front().centre_mm;
  Vector2d high = low;
  for (const Slot& slot : slots) {
    low = low.cwiseMin(slot.centre_mm);
    high = high.cwiseMax(slot.centre_mm);
  }
  std::uniform_real_distribution<double> share(0.0, 1.0);
  Slot slot = slots[static_cast<std::size_t>(share(random) * static_cast<double>(slots.size()))];
  for (int axis : {0, 1})
    slot.centre_mm[axis] = low[axis] - kAround_mm + share(random) * (high[axis] - low[axis] + 2.0 * kAround_mm);
  slot.axis_deg += share(random) < 0.5 ? 90.0 * std::floor(2.0 * share(random)) : 30.0 * share(random) - 15.0;
  const Patch patch = searched(slot);
  const bool alone = std::all_of(blanks.begin(), blanks.end(), [&](const Patch& blank) { return apart(patch, blank); });
  if (!alone || !in_picture(bed.camera, patch)) return std::nullopt;
  return slot;
}

class DecoyWindowsSlow : public testing::TestWithParam<std::string> {};

TEST_P(DecoyWindowsSlow, HoldNoBlank) {
  constexpr int kWindows = 112;
  const std::filesystem::path folder = project() / GetParam();
  const LoadedBed bed = loaded_bed(folder);
  const std::vector<Patch> blanks = real_blanks(bed.fixture, folder / "truth.json");
  const CheckOptions check;
  EdgeModelStore models;
  const PreparedPhoto prepared =
      prepare_photo(bed.photo, bed.camera, bed.fixture, std::nullopt, check.range, 1, models);
  MeasureOptions options;
  options.blur = prepared.blur;
  options.lens_error_px = bed.options.lens_error_px;
  const auto asked_of = [&](const Slot& slot) {
    const BlankPlace expected = nominal_place(slot);
    SlotTask task{slot, expected, check.range,
                  search_slot(prepared.picture, bed.camera, slot.blank, slot.seat, expected, check.range),
                  EdgeClutter()};
    add_clutter_around({bed.photo, bed.camera, task.slot.blank, task.slot.seat, options.blur, models}, task,
                       task.clutter);
    task.clutter.finish();
    task.clutter.beside(prepared.tasks.front().clutter);
    return measure_slot(bed.photo, prepared.picture, bed.camera, bed.camera, task, options, models).result;
  };
  // asked in the same way, real slots have their blanks
  EXPECT_TRUE(std::any_of(bed.fixture.slots.begin(), bed.fixture.slots.end(),
                          [&](const Slot& slot) { return asked_of(slot).state == SlotState::found; }));
  auto random = seeded_by_name();
  int asked = 0;
  for (int draw = 0; asked < kWindows; ++draw) {
    ASSERT_LT(draw, 100 * kWindows) << "no room for windows without a blank";
    const std::optional<Slot> slot = drawn_decoy(bed, blanks, random);
    if (!slot) continue;
    ++asked;
    const SlotResult result = asked_of(*slot);
    EXPECT_FALSE(result.numbers || result.state == SlotState::found || result.state == SlotState::mismatch)
        << to_string(result.state) << " at " << slot->centre_mm.transpose() << " mm, " << slot->axis_deg << " deg";
  }
}

INSTANTIATE_TEST_SUITE_P(Traced, DecoyWindowsSlow,
                         testing::Values("fixtures/demo/pens", "tests/scenes/small/marked", "tests/scenes/small/mixed",
                                         "tests/scenes/small/odd_one", "tests/scenes/small/plates",
                                         "tests/scenes/small/round_floor", "tests/scenes/small/round_vee",
                                         "tests/scenes/small/taper_vee", "tests/scenes/small/turned_tip"),
                         [](const auto& scene) { return scene.param.substr(scene.param.rfind('/') + 1); });

}  // namespace
}  // namespace jigtrue::test
