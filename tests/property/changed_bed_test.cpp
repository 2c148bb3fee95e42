// The same scene in other words: another origin of the bed, another unit of length, the slots in another order, another
// number of threads.
#include "property/loaded_bed.hpp"
#include <gtest/gtest.h>

namespace jigtrue::test {
namespace {

LoadedBed with_origin_moved(const LoadedBed& bed, const PlaneMotion& motion) {
  LoadedBed other = bed;
  Rigid new_from_old;
  new_from_old.rotation = Eigen::AngleAxisd(rad_from_deg(motion.turn_deg), Vector3d::UnitZ()).toRotationMatrix();
  new_from_old.translation = {motion.shift_mm.x(), motion.shift_mm.y(), 0.0};
  other.camera.camera_from_bed = bed.camera.camera_from_bed * new_from_old.inverse();
  // d rotation acts in the camera frame and moves the bed's new origin along with it: translation' = t - R' s
  const Eigen::Index n = bed.camera.lens.parameters.size();
  MatrixXd by = MatrixXd::Identity(n + 6, n + 6);
  by.block(n + 3, n, 3, 3) = cross_matrix(other.camera.camera_from_bed.rotation * new_from_old.translation);
  other.camera.covariance = by * bed.camera.covariance * by.transpose();
  for (Slot& slot : other.fixture.slots) {
    slot.centre_mm = motion.point(slot.centre_mm);
    slot.axis_deg = motion.angle_deg(slot.axis_deg);
  }
  return other;
}

BlankShape scaled(const BlankShape& shape, double k) {
  BlankShape other = shape;
  if (auto* round = std::get_if<RoundBlank>(&other)) {
    round->diameter_mm *= k;
    round->length_mm *= k;
  } else if (auto* turned = std::get_if<TurnedBlank>(&other)) {
    for (ProfilePoint& point : turned->profile) {
      point.distance_mm *= k;
      point.diameter_mm *= k;
    }
  } else if (auto* plate = std::get_if<PlateBlank>(&other)) {
    plate->width_mm *= k;
    plate->height_mm *= k;
    plate->thickness_mm *= k;
    plate->corner_radius_mm *= k;
  } else if (auto* disc = std::get_if<DiscBlank>(&other)) {
    disc->diameter_mm *= k;
    disc->thickness_mm *= k;
  }
  return other;
}

// Everything k times as large, the camera k times as far away: the same picture.
LoadedBed scaled(const LoadedBed& bed, double k) {
  LoadedBed other = bed;
  other.camera.camera_from_bed.translation *= k;
  const Eigen::Index n = bed.camera.lens.parameters.size();
  other.camera.covariance.bottomRows(3) *= k;
  other.camera.covariance.rightCols(3) *= k;
  EXPECT_EQ(other.camera.covariance.rows(), n + 6);
  other.options.range.across_mm *= k;
  other.options.range.along_mm *= k;
  for (Slot& slot : other.fixture.slots) {
    slot.centre_mm *= k;
    slot.blank.shape = scaled(slot.blank.shape, k);
    slot.blank.diameter_tolerance_mm *= k;
    slot.blank.length_tolerance_mm *= k;
    slot.seat.height_tolerance_mm *= k;
    if (slot.seat.top_mm) *slot.seat.top_mm *= k;
    if (auto* vee = std::get_if<VeeSeat>(&slot.seat.kind)) vee->bottom_mm *= k;
    if (auto* floor = std::get_if<FloorSeat>(&slot.seat.kind)) floor->height_mm *= k;
    if (auto* axis = std::get_if<AxisSeat>(&slot.seat.kind)) axis->height_mm *= k;
    if (slot.design) {
      slot.design->width_mm *= k;
      slot.design->height_mm *= k;
      slot.design->along_mm *= k;
    }
  }
  return other;
}

class Bed : public testing::TestWithParam<const char*> {
 protected:
  [[nodiscard]] static LoadedBed bed() { return GetParam() == std::string("pens") ? pens() : mixed_kinds(); }
};
INSTANTIATE_TEST_SUITE_P(Scenes, Bed, testing::Values("pens", "mixed"),
                         [](const auto& test) { return std::string(test.param); });

TEST_P(Bed, OriginMovedAndTurned) {
  PlaneMotion motion;
  motion.shift_mm = {-137.25, 61.5};
  motion.turn_deg = 33.0;
  expect_moved(bed().measured(), with_origin_moved(bed(), motion).measured(), motion, kExact);
}

// Not to the last digit: some lengths do not grow with a scene (a rim is as sharp as it is, a search's step as fine),
// so other points are kept, as if the pixels were others.
TEST_P(Bed, LengthsScaled) {
  const PhotoFindings first = bed().measured();
  for (const double k : {0.8, 1.25}) {
    PlaneMotion motion;
    motion.scale = k;
    expect_moved(first, scaled(bed(), k).measured(), motion, {1.0, 0.0, true});
  }
}

TEST_P(Bed, SlotsInAnotherOrder) {
  const PhotoFindings first = bed().measured();
  LoadedBed other = bed();
  std::reverse(other.fixture.slots.begin(), other.fixture.slots.end());
  std::swap(other.fixture.slots[0], other.fixture.slots[2]);
  PhotoFindings second = other.measured();
  std::swap(second.slots[0], second.slots[2]);
  std::reverse(second.slots.begin(), second.slots.end());
  expect_bit_equal(first, second);
}

TEST_P(Bed, AnyNumberOfThreads) {
  LoadedBed other = bed();
  other.options.threads = 1;
  const PhotoFindings one = other.measured();
  other.options.threads = 5;
  expect_bit_equal(one, other.measured());
}

}  // namespace
}  // namespace jigtrue::test
