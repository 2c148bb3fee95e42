#include "jigtrue/calibration/marks_file.hpp"

#include "support/input_error_text.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

std::string with_marks(const std::string& marks, const std::string& more = "") {
  return R"({"schema": "jigtrue.marks/1", "marks_mm": [)" + marks + "]" + more + "}";
}
constexpr const char* kFour = "[10, 10, 3], [200, 10, 3], [10, 150, 3], [200, 150, 3]";

TEST(MarksFile, ReadsPlacesAsListsOrByName) {
  const MarksFile file = read_marks_json(
      with_marks(R"([10, 10, 3], [200, 10, 3], [10, 150, 3], {"x_mm": 200, "y_mm": 150, "height_mm": 4.5})",
                 R"(, "field_mm": 6, "sigma_mm": 0.02)"),
      "marks.json");
  ASSERT_EQ(file.marks_mm.size(), 4U);
  EXPECT_EQ(file.marks_mm[3], Vector3d(200, 150, 4.5));
  EXPECT_EQ(file.field_mm, 6.0);
  EXPECT_EQ(file.sigma_mm, 0.02);
  EXPECT_EQ(read_marks_json(with_marks(kFour), "marks.json").field_mm, 8.0);
}

struct MarksFault {
  const char* name;
  std::string text;
  const char* says;
};
class MarksFileFaults : public testing::TestWithParam<MarksFault> {};
TEST_P(MarksFileFaults, AreToldInOneLine) {
  const std::string text = test::input_error_text([] { (void)read_marks_json(GetParam().text, "marks.json"); });
  EXPECT_NE(text.find("marks.json"), std::string::npos) << text;
  EXPECT_NE(text.find(GetParam().says), std::string::npos) << text;
}
INSTANTIATE_TEST_SUITE_P(
    All, MarksFileFaults,
    testing::Values(
        MarksFault{"schema", R"({"schema": "jigtrue.fixture/1", "marks_mm": []})", "jigtrue.marks/1"},
        MarksFault{"not_json", "x,y,z", ""}, MarksFault{"three", with_marks("[0,0,0],[90,0,0],[0,90,0]"), "four marks"},
        MarksFault{"twice", with_marks(std::string(kFour) + ", [200, 150, 3]"), "repeats mark 4 at (200, 150)"},
        MarksFault{"two_heights", with_marks(std::string(kFour) + ", [200, 150, 9]"), "one place, two heights"},
        MarksFault{"overlap", with_marks(std::string(kFour) + ", [205, 150, 3]"), "overlaps mark 4"},
        MarksFault{"line", with_marks("[0,0,0],[50,50,0],[100,100,0],[150,150.5,0]"), "in one line"},
        MarksFault{"threes", with_marks("[0,0,0],[50,0,0],[100,0,0],[50,90,0]"), "no three lie in one line"},
        MarksFault{"far", with_marks(std::string(kFour) + ", [20000, 150, 3]"), "5000 mm"},
        MarksFault{"high", with_marks(std::string(kFour) + ", [100, 50, 3000]"), "500 mm"},
        MarksFault{"text", with_marks(std::string(kFour) + R"(, ["a", 150, 3])"), "marks_mm"},
        MarksFault{"pair", with_marks(std::string(kFour) + ", [100, 50]"), "marks_mm"},
        MarksFault{"field", with_marks(kFour, R"(, "field_mm": -8)"), "field_mm"}),
    [](const auto& param) { return param.param.name; });

}  // namespace
}  // namespace jigtrue
