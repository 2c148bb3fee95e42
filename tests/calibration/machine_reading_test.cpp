// What camera.json keeps of the machine, and what it refuses.
#include "jigtrue/calibration/machine_reading.hpp"

#include "support/input_error_text.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using nlohmann::json;

MachineReading sample() {
  MachineReading machine;
  machine.figures = {{0.003, 0.0005}, {0.1, 0.03}, Figure{0.002, 0.0007}, Figure{-0.001, 0.0007}, 0.031, 9};
  machine.map.middle_mm = {180.5, 150.25};
  machine.map.beam_from_bed << 0.9985, 0.0009, 0.0008, 1.0015;
  machine.map.covariance << 4e-8, 1e-8, 1e-8, 3e-8;
  return machine;
}

MachineReading read(const json& file) {
  const JsonFile whole(json{{"machine", file}}.dump(), "camera.json", {});
  return read_machine_reading(whole.root()["machine"]);
}

TEST(MachineReading, ReadsBackAsItWasWritten) {
  const MachineReading wrote = sample();
  const MachineReading got = read(machine_json(wrote));
  EXPECT_EQ(got.map.middle_mm, wrote.map.middle_mm);
  EXPECT_EQ(got.map.beam_from_bed, wrote.map.beam_from_bed);
  EXPECT_EQ(got.map.covariance, wrote.map.covariance);
  EXPECT_EQ(got.figures.marks, 9);
  EXPECT_EQ(got.figures.rest_mm, 0.031);
  EXPECT_EQ(got.figures.scale_x->value, 0.002);
  EXPECT_EQ(got.figures.scale_y->u95, 0.0007);
  EXPECT_EQ(got.figures.scale_x_less_y.value, 0.003);
  EXPECT_EQ(got.figures.squareness_deg.u95, 0.03);
  MachineReading alone = wrote;
  alone.figures.scale_x.reset();
  alone.figures.scale_y.reset();
  EXPECT_FALSE(read(machine_json(alone)).figures.scale_x);
}

TEST(MachineReading, RefusesWhatNoMachineIs) {
  struct BadField {
    const char* pointer;
    json value;
    const char* says;
  };
  for (const BadField& fault : std::initializer_list<BadField>{
           {"/marks", 0, "marks: must lie between"},
           {"/rest_mm", nullptr, "rest_mm: must be a number"},
           {"/squareness_deg", 0.1, "squareness_deg: must be an object"},
           {"/scale_x_less_y/u95", -0.1, "scale_x_less_y.u95: must not be negative"},
           {"/scale_x/value", 1e9, "scale_x.value: is beyond any machine"},
           {"/beam_from_bed/matrix", json::array({{1.0, 0.0}, {0.0, 1.2}}), "within 0.05 of one to one"},
           {"/beam_from_bed/matrix/0", json::array({1.0}), "must hold 2 numbers"},
           {"/beam_from_bed/middle_mm/0", 1e300, "middle_mm[0]: is beyond any machine"},
           {"/beam_from_bed/covariance/0/0", -1.0, "negative"},
           {"/beam_from_bed/covariance/0/0", 1e12, "beyond any machine"}}) {
    json file = machine_json(sample());
    file[json::json_pointer(fault.pointer)] = fault.value;
    const std::string text = test::input_error_text([&] { (void)read(file); });
    EXPECT_EQ(text.rfind("camera.json: machine.", 0), 0U) << text;
    EXPECT_NE(text.find(fault.says), std::string::npos) << text;
  }
}

TEST(BeamMap, TurnsAndSpreadsAsItsMatrixSays) {
  const BeamMap map = sample().map;
  EXPECT_EQ(map.at(map.middle_mm), map.middle_mm);
  // along +X: the matrix's first column; a small turn is its lower element over its upper
  EXPECT_NEAR(map.turn_rad(0.0), std::atan2(0.0008, 0.9985), 1e-12);
  EXPECT_NEAR(map.turn_rad(kPi), map.turn_rad(0.0), 1e-12);
  // aside: half the difference of scales; away: the squareness; a direction along X is turned by neither
  EXPECT_NEAR(map.sigma_mm(map.middle_mm), 0.0, 1e-12);
  EXPECT_NEAR(map.sigma_mm(map.middle_mm + Vector2d(100.0, 0.0)), 50.0 * 2e-4, 1e-12);
  EXPECT_NEAR(map.sigma_mm(map.middle_mm + Vector2d(0.0, 100.0)), 100.0 * std::sqrt(3e-8), 1e-12);
  EXPECT_NEAR(map.turn_sigma_rad(0.0), 0.0, 1e-12);
  EXPECT_NEAR(map.turn_sigma_rad(kPi / 2.0), std::sqrt(3e-8), 1e-12);
}

}  // namespace
}  // namespace jigtrue
