#include "jigtrue/layout/correct_job.hpp"

#include "jigtrue/layout/layout_svg.hpp"
#include "support/input_error_text.hpp"
#include "support/patterns.hpp"
#include "support/sample_result.hpp"

#include <array>
#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// The sample's slots: 1 and 2 level, 8 upright, all found; 5 is empty.
CheckResult slots(std::initializer_list<std::size_t> numbers) {
  CheckResult all = test::sample_result();
  CheckResult some = all;
  some.slots.clear();
  for (const std::size_t n : numbers) some.slots.push_back(all.slots[n - 1]);
  return some;
}

const std::string kHead =
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!-- <g id=\"slot-1\"> in a comment --><svg "
    "xmlns=\"http://www.w3.org/2000/svg\" width=\"400mm\"\n  height='400mm' viewBox=\"0 0 400 400\">\n<rect "
    "id=\"frame\" "
    "width=\"400\" height=\"400\" fill=\"none\"/>\n";

// "matrix(a b c d e f) rest" as a function of points, read without the program's code.
struct Matrix {
  std::array<double, 6> v{};
  [[nodiscard]] Vector2d operator()(const Vector2d& p) const {
    return {v[0] * p.x() + v[2] * p.y() + v[4], v[1] * p.x() + v[3] * p.y() + v[5]};
  }
};
Matrix first_matrix(const std::string& text, const std::string& after) {
  const std::size_t at = text.find("matrix(", text.find(after));
  Matrix m;
  std::istringstream in(text.substr(at + 7));
  for (double& value : m.v) in >> value;
  return m;
}

// The bed point's place on the page of 400 x 400 mm, and what the rigid motion from nominal to measured does to it.
Vector2d page(const Vector2d& bed) { return {bed.x(), 400.0 - bed.y()}; }
Vector2d carried(const SlotResult& slot, const Vector2d& bed) {
  const double a = rad_from_deg(slot.numbers->axis_deg - slot.nominal_axis_deg);
  const Vector2d d = bed - slot.nominal_centre_mm;
  return slot.numbers->centre_mm +
         Vector2d(std::cos(a) * d.x() - std::sin(a) * d.y(), std::sin(a) * d.x() + std::cos(a) * d.y());
}

TEST(CorrectJob, ChangesOnlyTheTransformsOfItsSlots) {
  const std::string job =
      kHead +
      "<g id=\"slot-1\"\n transform = \"translate(200 250)\" ><path d=\"M-30-2H30V2z\" "
      "transform=\"rotate(0)\"/><!-- > --></g>\n<g data-slot='2'><rect x=\"170\" y=\"223\" width=\"60\" "
      "height=\"4\"/></g><g id=\"other\" transform=\"scale(1)\"/>\n</svg>\n";
  const CheckResult result = slots({1, 2});
  const CorrectedJob out = correct_job(job, "job.svg", result, std::nullopt);
  EXPECT_EQ(out.placed, (std::vector<std::string>{"1", "2"}));
  // taken out again, what was put in leaves the very file
  std::string back = test::with_replaced(out.svg, R"(matrix\([-0-9. ]+\) )", "");
  back = test::with_replaced(back, R"re( transform="matrix\([-0-9. ]+\)")re", "");
  back = test::with_replaced(back, R"re( data-corrected="[^"]*")re", "");
  EXPECT_EQ(back, job);
  EXPECT_NE(out.svg.find("transform = \"matrix("), std::string::npos);
  for (std::size_t i = 0; i < 2; ++i) {
    const Matrix m = first_matrix(out.svg, i == 0 ? "id=\"slot-1\"\n" : "</g>\n<g");
    const SlotResult& slot = result.slots[i];
    for (const Vector2d& off : {Vector2d(0, 0), Vector2d(30, 2), Vector2d(-30, -2)}) {
      const Vector2d bed = slot.nominal_centre_mm + off;
      EXPECT_NEAR((m(page(bed)) - page(carried(slot, bed))).norm(), 0.0, 1e-6);
    }
  }
}

// Moved twice, every slot would be off by its whole offset.
TEST(CorrectJob, RefusesALayoutThatIsCorrectedAlready) {
  const std::string job = kHead + "<g id=\"1\"><path d=\"M170 248h60v4z\"/></g></svg>";
  const CheckResult result = slots({1});
  const std::string once = correct_job(job, "job.svg", result, std::nullopt).svg;
  const auto refusal = [&](const std::string& svg) {
    return test::input_error_text([&] { (void)correct_job(svg, "job.svg", result, std::nullopt); });
  };
  EXPECT_NE(refusal(once).find("the group of slot 1 is already corrected"), std::string::npos) << refusal(once);
  // an editor that drops attributes it does not know keeps the transform
  const std::string bare = test::with_replaced(once, R"re( data-corrected="[^"]*")re", "");
  EXPECT_NE(refusal(bare).find("already corrected"), std::string::npos) << refusal(bare);
  // the layout that check and place draw themselves
  CheckResult fits = result;
  fits.slots[0].room.reset();
  const std::string own = layout_svg(fits, Machine{{400, 400}, OriginCorner::front_left, {}});
  EXPECT_NE(refusal(own).find("already corrected"), std::string::npos) << refusal(own);
}

TEST(CorrectJob, WorksInTheParentsOwnUnits) {
  // px at 1/96 inch inside a shifted, scaled, turned group
  const double k = 96.0 / 25.4;
  const std::string job =
      "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"400mm\" height=\"400mm\"><g transform=\"translate(" +
      std::to_string(400 * k) + " 0) rotate(90) scale(2)\"><g id=\"8\"><path d=\"M" + std::to_string(175 * k / 2 - 9) +
      " " + std::to_string(100 * k / 2 - 60) + "v120h18v-120z\"/></g></g></svg>";
  const CheckResult result = slots({8});
  const CorrectedJob out = correct_job(job, "job.svg", result, std::nullopt);
  const Matrix inner = first_matrix(out.svg, "scale(2)");
  // parent: x_page = 400 - 2 y / k, y_page = 2 x / k
  const auto to_page = [&](const Vector2d& p) { return Vector2d(400.0 - 2 * p.y() / k, 2 * p.x() / k); };
  const auto from_page = [&](const Vector2d& p) { return Vector2d(p.y() * k / 2, (400.0 - p.x()) * k / 2); };
  for (const Vector2d& bed : {Vector2d(300, 225), Vector2d(302, 260)})
    EXPECT_NEAR((to_page(inner(from_page(page(bed)))) - page(carried(result.slots[0], bed))).norm(), 0.0, 1e-4);
}

TEST(CorrectJob, TakesOutWhatMustNotBeBurned) {
  const std::string art = "<path d=\"M170 248h60v4z\"/>";
  const std::string doomed = "<g id=\"5\" class=\"x\"><g><path d=\"M170 148h60v4z\"/></g><![CDATA[</g>]]></g>";
  const std::string job = kHead + "<g id=\"1\">" + art + "</g>" + doomed + "<g id=\"slot-5\"/>\n</svg>";
  const CorrectedJob out = correct_job(job, "job.svg", slots({1, 5}), std::nullopt);
  EXPECT_EQ(out.svg.find("class=\"x\""), std::string::npos);
  EXPECT_EQ(out.svg.find("slot-5"), std::string::npos);
  EXPECT_TRUE(out.svg.ends_with("</g>\n</svg>"));
  ASSERT_EQ(out.left_out.size(), 1u);
  EXPECT_EQ(out.left_out[0].slot_id, "5");
}

// The fixture file's design box says nothing of a layout of one's own: the ink of each group is judged, as it lies
// about its slot's axis, whichever way the slot is turned and in whatever units it is drawn.
TEST(CorrectJob, JudgesTheInkOfEachGroup) {
  CheckResult result = slots({1, 2, 8});
  for (SlotResult& slot : result.slots)
    slot.room = DesignRoom{3.05, 3.05, 69, 69, 0.05, 0.2, std::nullopt, 11.0, 0.0, 0.0, "incidence"};
  const auto job = [](const std::string& first, const std::string& upright) {
    return kHead + "<g id=\"1\">" + first +
           "</g><g id=\"2\"><rect x=\"170\" y=\"222.5\" width=\"60\" height=\"5\"/></g>" +
           "<g id=\"8\" transform=\"translate(300 175) scale(.5)\">" + upright + "</g></svg>";
  };
  const std::string low = R"(<rect x="170" y="247.1" width="60" height="5.8"/>)";
  const std::string slim = R"(<rect x="-5.8" y="-60" width="11.6" height="120"/>)";
  // a band of 6.1 less 0.1: 5.8 of ink fit, with a line of 0.3 round them they cannot be proved to
  const CorrectedJob good = correct_job(job(low, slim), "job.svg", result, std::nullopt);
  EXPECT_EQ(good.placed, (std::vector<std::string>{"1", "2", "8"})) << good.left_out.front().reason;
  EXPECT_NEAR(good.result.slots[2].design->height_mm, 5.8, 1e-9);
  EXPECT_NEAR(good.result.slots[2].design->width_mm, 60.0, 1e-9);
  const auto left_out = [&](const std::string& first, const std::string& upright) {
    const CorrectedJob out = correct_job(job(first, upright), "job.svg", result, std::nullopt);
    EXPECT_EQ(out.left_out.size(), 1u);
    EXPECT_EQ(out.svg.find("id=\"" + out.left_out.front().slot_id + "\""), std::string::npos);
    return out.left_out.front().slot_id + ": " + out.left_out.front().reason;
  };
  const std::string tall = left_out(R"(<rect x="170" y="246" width="60" height="8"/>)", slim);
  EXPECT_NE(tall.find("1: the design is 8.00 mm tall"), std::string::npos) << tall;
  const std::string off_axis = left_out(R"(<rect x="170" y="250" width="60" height="4"/>)", slim);
  EXPECT_NE(off_axis.find("8.00 mm tall"), std::string::npos) << off_axis;
  const std::string stroked =
      left_out(R"(<rect x="170" y="247.1" width="60" height="5.8" stroke="red" stroke-width=".3"/>)", slim);
  EXPECT_NE(stroked.find("1: cannot be proved: the design is 6.10 mm tall"), std::string::npos) << stroked;
  const std::string upright = left_out(low, R"(<rect x="-8" y="-60" width="16" height="120"/>)");
  EXPECT_NE(upright.find("8: the design is 8.00 mm tall"), std::string::npos) << upright;
}

TEST(CorrectJob, RespectsTheMachinesOriginCorner) {
  const Machine machine{{400, 400}, OriginCorner::back_right, {}};
  CheckResult result = slots({1});
  result.slots[0].nominal_centre_mm -= Vector2d(400, 400);
  result.slots[0].numbers->centre_mm -= Vector2d(400, 400);
  const std::string job = kHead + "<g id=\"1\"><path d=\"M170 248h60v4z\"/></g></svg>";
  const CorrectedJob here = correct_job(job, "job.svg", slots({1}), std::nullopt);
  const CorrectedJob there = correct_job(job, "job.svg", result, machine);
  EXPECT_EQ(here.svg, there.svg);
}

TEST(CorrectJob, RefusesJobsThatDoNotMatch) {
  const std::string art = "<path d=\"M170 248h60v4z\"/>";
  struct Case {
    std::string body;
    std::string says;
  };
  const auto group = [&art](const std::string& attributes) { return "<g " + attributes + ">" + art + "</g>"; };
  for (const Case& bad : std::initializer_list<Case>{
           {"<g id=\"one\">" + art + "</g>", "holds no group for slot 1, 2"},
           {"<g id=\"1\">" + art + "</g>", "holds no group for slot 2"},
           {group("id=\"1\"") + group("id=\"slot-77\""), "\"slot-77\" belongs to no slot"},
           {"<g data-slot=\"x\">" + art + "</g>", "\"x\" belongs to no slot"},
           {"<g id=\"1\"><g id=\"2\">" + art + "</g></g>", "inside another"},
           {group("id=\"1\" transform=\"translate(0 60)\"") + group("id=\"2\""), "nominal place"},
           {"<g id=\"1\"><script/></g>", "active content"},
           {"<g id=\"1\"><image href=\"far.png\"/></g>", "outside the file"}}) {
    const std::string text = test::input_error_text([&] {
      (void)correct_job(kHead + bad.body + "</svg>", "job.svg", slots({1, 2}), std::nullopt);
    });
    EXPECT_NE(text.find(bad.says), std::string::npos) << text;
  }
  const std::string other = test::input_error_text([&] {
    (void)correct_job(kHead + "<g id=\"1\">" + art + "</g></svg>", "job.svg", slots({1}),
                      Machine{{300, 200}, OriginCorner::front_left, {}});
  });
  EXPECT_NE(other.find("the bed 300.0 x 200.0"), std::string::npos) << other;
}

}  // namespace
}  // namespace jigtrue
