#include "jigtrue/layout/machine.hpp"

#include "support/input_error_text.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

std::string machine_text(const std::string& fields) { return R"({"schema": "jigtrue.machine/1", )" + fields + "}"; }

std::string machine_refusal(const std::string& text) {
  return test::input_error_text([&] { (void)read_machine(text, "bench.json"); });
}

TEST(Machine, ReadsTheContractsExample) {
  const Machine machine = read_machine(
      machine_text(R"("bed_mm": [400, 300], "origin_corner": "front-left", "beam": "vertical")"), "m.json");
  EXPECT_EQ(machine.bed_mm, Vector2d(400, 300));
  EXPECT_EQ(machine.origin_corner, OriginCorner::front_left);
  EXPECT_FALSE(machine.scanning_head_mm);
}

TEST(Machine, ReadsAScanningHeadAndEveryCorner) {
  for (const char* corner : {"front-left", "front-right", "back-left", "back-right"}) {
    const Machine machine = read_machine(
        machine_text(std::string(R"("bed_mm": [110, 110], "beam": {"from_mm": [55, -55, 170.5]}, "origin_corner": ")") +
                     corner + "\""),
        "m");
    EXPECT_STREQ(to_string(machine.origin_corner), corner);
    ASSERT_TRUE(machine.scanning_head_mm);
    EXPECT_EQ(*machine.scanning_head_mm, Vector3d(55, -55, 170.5));
  }
}

TEST(Machine, TellsTheBedsFrontLeftCorner) {
  Machine machine{{400, 300}, OriginCorner::front_left, {}};
  EXPECT_EQ(machine.front_left_mm(), Vector2d(0, 0));
  machine.origin_corner = OriginCorner::front_right;
  EXPECT_EQ(machine.front_left_mm(), Vector2d(-400, 0));
  machine.origin_corner = OriginCorner::back_left;
  EXPECT_EQ(machine.front_left_mm(), Vector2d(0, -300));
  machine.origin_corner = OriginCorner::back_right;
  EXPECT_EQ(machine.front_left_mm(), Vector2d(-400, -300));
}

TEST(Machine, RefusesWithFileFieldAndRemedy) {
  const struct {
    std::string text;
    const char* says;
  } cases[] = {
      {"{", "the text ends too early"},
      {"[1]", "must be an object"},
      {R"({"bed_mm": [1, 1]})", "schema"},
      {R"({"schema": "jigtrue.fixture/1"})", "jigtrue.machine/1"},
      {machine_text(R"("origin_corner": "front-left")"), "bed_mm"},
      {machine_text(R"("bed_mm": [400], "origin_corner": "front-left")"), "bed_mm: holds 1 items, must hold 2"},
      {machine_text(R"("bed_mm": [400, "300"], "origin_corner": "front-left")"),
       "bed_mm[1]: must be a number, is \"300\""},
      {machine_text(R"("bed_mm": [400, -1], "origin_corner": "front-left")"), "bed_mm[1]: -1 is outside 1 to 20000 mm"},
      {machine_text(R"("bed_mm": [400, 1e300], "origin_corner": "front-left")"), "20000"},
      {machine_text(R"("bed_mm": [400, 1e999], "origin_corner": "front-left")"), "too large"},
      {machine_text(R"("bed_mm": [400, 300])"), "origin_corner"},
      {machine_text(R"("bed_mm": [400, 300], "origin_corner": "left")"), "\"back-right\""},
      {machine_text(R"("bed_mm": [400, 300], "origin_corner": 3)"), "origin_corner: must be a text"},
      {machine_text(R"("bed_mm": [400, 300], "origin_corner": "front-left", "beam": "slanted")"), "vertical"},
      {machine_text(R"("bed_mm": [400, 300], "origin_corner": "front-left", "beam": {"from_mm": [1, 2]})"),
       "beam.from_mm: holds 2 items, must hold 3"},
      {machine_text(R"("bed_mm": [400, 300], "origin_corner": "front-left", "beam": {"from_mm": [1, 2, 0]})"), "z > 0"},
      {machine_text(R"("bed_mm": [400, 300], "origin_corner": "front-left", "beem": "vertical")"), "beem"},
  };
  for (const auto& c : cases) {
    const std::string message = machine_refusal(c.text);
    EXPECT_EQ(message.rfind("bench.json: ", 0), 0u) << message;
    EXPECT_NE(message.find(c.says), std::string::npos) << c.text << "\n" << message;
  }
}

TEST(Machine, RemarksAreFree) {
  EXPECT_NO_THROW((void)read_machine(
      machine_text(R"("note": "the small one", "bed_mm": [1, 1], "origin_corner": "back-left")"), "m"));
}

}  // namespace
}  // namespace jigtrue
