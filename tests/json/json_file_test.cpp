// One reader for every file: what it forgives, and that each complaint names file, field, value and remedy.
#include "jigtrue/json/json_file.hpp"

#include "support/cpu_time.hpp"
#include "support/input_error_text.hpp"

#include <functional>
#include <string>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr JsonForm kByHand{"a recipe", "kitchen.recipe/2"};
constexpr JsonForm kWritten{"a receipt", "kitchen.receipt/1", "print it again"};

std::string complaint(const std::string& text, const std::function<void(const JsonField&)>& read,
                      const JsonForm& form = kByHand) {
  return test::input_error_text([&] {
    const JsonFile file(text, "a.json", form);
    read(file.root());
  });
}

TEST(JsonFile, ForgivesCommentsAndLastCommas) {
  const JsonFile file("\xEF\xBB\xBF{ // eggs\n \"n\": [1, 2,], /* all */ }", "a.json", kWritten);
  EXPECT_EQ(file.root()["n"].size(), 2U);
  EXPECT_EQ(file.root().dump(), "{\"n\":[1,2]}") << "fields keep their order, comments go";
}

TEST(JsonFile, NamesFieldValueAndRemedy) {
  using Reader = std::function<void(const JsonField&)>;
  const struct {
    const char* text;
    Reader read;
    const char* says;
  } cases[] = {
      {R"({"n": "x"})", [](auto& f) { (void)f["n"].number(); },
       "a.json: n: must be a number, is \"x\"; write it without quotes or unit, like 12.5"},
      {R"({"n": 7})",
       [](auto& f) {
         (void)f["n"].number({0, 5, "mm"});
       },
       "a.json: n: 7 is outside 0 to 5 mm; give the real length in millimetres"},
      {R"({"a": [{"b": 1}]})", [](auto& f) { (void)f["a"][0].at("c", "add it"); }, "a.json: a[0].c: missing; add it"},
      {R"({"a": [1]})", [](auto& f) { (void)f["a"].numbers(2); }, "a.json: a: must hold 2 numbers, is a list"},
      {R"({"a": 1})", [](auto& f) { (void)f["a"]["b"]; }, "a.json: a: must be an object, is 1"},
      {R"({"a": {}})", [](auto& f) { (void)f["a"].size(); }, "a.json: a: must be a list, is an object"},
      {R"({"flour_g": 1, "flower_g": 2})", [](auto& f) { f.require_fields({"flour_g"}, "a recipe"); },
       "a.json: flower_g: unknown field; did you mean flour_g?"},
      {R"({"n": "a\nb"})", [](auto& f) { (void)f["n"].line(9); },
       "a.json: n: \"a\\nb\" holds a control character; use letters, digits and signs on one line"},
  };
  for (const auto& c : cases) EXPECT_EQ(complaint(c.text, c.read), c.says);
}

TEST(JsonFile, TellsADecimalCommaAndAPhotoForWhatTheyAre) {
  const auto nothing = [](const JsonField&) {};
  EXPECT_EQ(
      complaint("{\"n\": 11,0 }", nothing),
      "a.json: line 1, column 10: a field's name is expected near \"0\"; write numbers with a decimal point, not a "
      "comma, like 12.5");
  EXPECT_EQ(complaint("\xFF\xD8\xFF\xE0\x10JFIF", nothing, kWritten),
            "a.json: is a picture, not a receipt; give a receipt");
}

// What a program wrote no person should mend by hand.
TEST(JsonFile, OfAFileThatIsWrittenTheRemedyIsToWriteItAgain) {
  EXPECT_EQ(complaint(
                "{\"n\": true}", [](auto& f) { (void)f["n"].number(); }, kWritten),
            "a.json: n: must be a number, is true; print it again");
  EXPECT_EQ(complaint(
                "{\"n\": 1", [](auto&) {}, kWritten),
            "a.json: line 1, column 8: the text ends too early; print it again");
}

TEST(JsonFile, TellsAnotherVersionFromAnotherFile) {
  const auto schema = [](const std::string& name) {
    return complaint("{\"schema\": \"" + name + "\"}", [](const JsonField& f) { require_schema(f, kByHand); });
  };
  EXPECT_NE(schema("kitchen.recipe/3").find("a version that this program does not read"), std::string::npos);
  EXPECT_NE(schema("jigtrue.lens/1").find("\"jigtrue.lens/1\" is not a recipe"), std::string::npos);
  EXPECT_NE(schema("x").find("unknown"), std::string::npos);
}

TEST(JsonFile, RefusesACovarianceThatIsNone) {
  const auto covariance = [](const std::string& text) {
    return complaint("{\"c\": " + text + "}", [](const JsonField& f) { (void)f["c"].covariance(2); });
  };
  EXPECT_NE(covariance("[[1, 0.5], [0.4, 1]]").find("symmetric"), std::string::npos);
  EXPECT_NE(covariance("[[1, 2], [2, 1]]").find("eigenvalues"), std::string::npos);
  EXPECT_NE(covariance("[[-1, 0], [0, 1]]").find("negative variances"), std::string::npos);
  EXPECT_NO_THROW((void)JsonFile("[[1, 1], [1, 1]]", "c", {}).root().covariance(2)) << "two that always err alike";
}

// An object of very many fields is no way to keep the program busy: a search among all for each would take minutes.
TEST(JsonFile, ReadsAnObjectOfManyFieldsAtOnce) {
  std::string text = "{\"x\": 1";
  for (int i = 0; i < 200'000; ++i) text += ",\"" + std::to_string(i) + "\":1";
  const double seconds =
      test::cpu_seconds([&] { EXPECT_EQ(JsonFile(text + "}", "a", {}).root().field_count(), 200'001U); });
  EXPECT_LT(seconds, 10.0) << "half a second, and much more for a slow machine with checks built in";
}

}  // namespace
}  // namespace jigtrue
