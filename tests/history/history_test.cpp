#include "jigtrue/history/settle.hpp"
#include "jigtrue/history/trend.hpp"
#include "support/sample_loads.hpp"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

using test::load;
using test::loads;
using test::two_slots;

TEST(CheckRecord, ALineReadsBackAsItWasWritten) {
  const Fixture fixture = two_slots();
  CheckResult result = load(fixture, 0.31, -1.2, 0.25);
  result.slots[1].state = SlotState::empty;
  result.slots[1].numbers.reset();
  result.placement = FixturePlacement{{0.5, -0.25}, 0.1, "slots", 0.3, 0.05};
  const std::string line = record_line(load_record(result, fixture, "2024-05-01T12:00:00Z"));
  EXPECT_EQ(line.find('\n'), std::string::npos);
  const CheckRecords records = read_records(line + "\n");
  ASSERT_EQ(records.loads.size(), 1U);
  EXPECT_EQ(records.damaged, 0);
  const LoadRecord& back = records.loads[0];
  EXPECT_EQ(back.photo, result.photo_file);
  EXPECT_EQ(back.time, "2024-05-01T12:00:00Z");
  ASSERT_TRUE(back.witness && back.placement);
  EXPECT_EQ(back.witness->seen, 4);
  EXPECT_EQ(back.placement->from, "slots");
  EXPECT_NEAR(back.slots[0].across_mm, 0.31, 1e-9);
  EXPECT_NEAR(*back.slots[0].along_mm, -1.2, 1e-9);
  EXPECT_FALSE(back.slots[1].measured);
  EXPECT_EQ(back.slots[1].state, "empty");
}

// A fixture that its marks find shifted and turned, blanks that follow it exactly: nothing of that is the slots' own.
TEST(CheckRecord, TakesTheFixturesOwnPlacementOutOfTheSlots) {
  const Fixture fixture = two_slots();
  CheckResult result = load(fixture, 0.0, 0.0, 0.0);
  result.placement = FixturePlacement{{1.2, -0.7}, 2.0, "marks", 0.02, 0.01};
  const Vector2d centre(200.0, 170.0);
  for (std::size_t i = 0; i < 2; ++i) {
    SlotNumbers& n = *result.slots[i].numbers;
    const Vector2d moved =
        centre + Vector2d(1.2, -0.7) + Eigen::Rotation2Dd(rad_from_deg(2.0)) * (fixture.slots[i].centre_mm - centre);
    n.offset_mm += moved - n.centre_mm;
    n.centre_mm = moved;
    n.rotation_deg = 2.0;
  }
  for (const SlotLoad& slot : load_record(result, fixture, "").slots) {
    EXPECT_NEAR(slot.across_mm, 0.0, 1e-12);
    EXPECT_NEAR(*slot.along_mm, 0.0, 1e-12);
    EXPECT_NEAR(slot.turn_deg, 0.0, 1e-12);
  }
}

TEST(CheckRecord, PassesOverDamagedLinesAndKeepsTheOthers) {
  const Fixture fixture = two_slots();
  const std::string line = record_line(load_record(load(fixture, 0.1, 0.0, 0.0), fixture, ""));
  const std::string second = record_line(load_record(load(fixture, 0.2, 0.0, 0.0), fixture, ""));
  const std::string third = record_line(load_record(load(fixture, 0.3, 0.0, 0.0), fixture, ""));
  const std::string text = line + "\n" + line.substr(0, line.size() / 2) + "\n" + second + "\n\n{}\nnonsense\n" +
                           R"({"schema":"another/1"})" + "\n" + third;
  const CheckRecords records = read_records(text);
  EXPECT_EQ(records.loads.size(), 3U);
  EXPECT_EQ(records.damaged, 4);
  // no cut of a line may take another with it
  for (std::size_t cut = 0; cut < line.size(); cut += 7)
    EXPECT_EQ(read_records(line.substr(0, cut) + "\n" + line + "\n").loads.size(), 1U) << cut;
}

// Whatever has become of a record, every whole line of it counts, and what is left can be told and drawn.
TEST(CheckRecord, IsNeverLostWholly) {
  const Fixture fixture = two_slots();
  const std::string line = record_line(load_record(load(fixture, 0.1, 0.0, 0.0), fixture, ""));
  const std::string other = record_line(load_record(load(fixture, 0.4, 0.0, 0.0), fixture, ""));
  const auto changed = [&](const std::string& from, const std::string& to) {
    std::string text = line;
    const std::size_t at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    return text.replace(at, from.size(), to);
  };
  std::string bytes;
  for (int i = 0; i < 4096; ++i) bytes.push_back(static_cast<char>((i * 37 + 11) % 256));
  for (const std::string& damage :
       {bytes, std::string(5000, '\0'), std::string(200'000, '['), changed("\"across_mm\":0.1", "\"across_mm\":1e300"),
        changed("\"across_mm\":0.1", "\"across_mm\":null"), changed("\"seen\":4", "\"seen\":1e30"),
        changed("\"seen\":4", "\"seen\":\"4\""), changed("\"slots\":[", "\"slots\":7,\"x\":["),
        changed("\"time\":\"", "\"time\":\"\\ud800"), line.substr(1), "[" + line + "]"}) {
    std::string text = line + "\n";
    text += damage;
    text += "\n" + other + "\n";
    const CheckRecords records = read_records(text);
    EXPECT_EQ(records.loads.size(), 2U) << damage.substr(0, 300);
    EXPECT_GE(records.damaged, 1) << damage.substr(0, 300);
    const std::vector<Trend> trends = trends_of(records);
    ASSERT_EQ(trends.size(), 1U);
    EXPECT_EQ(trends[0].loads.size(), 2U);
    EXPECT_EQ(settle(records, fixture).moved, 0);
  }
}

std::string record_of(const Fixture& fixture, const std::string& digest, double across, double along) {
  CheckResult result = load(fixture, across, along, 0.1);
  result.photo_digest = digest;
  return record_line(load_record(result, fixture, "")) + "\n";
}

// One photo checked six times agrees with itself on everything and proves nothing.
TEST(CheckRecord, CountsALoadOnce) {
  Fixture fixture = two_slots();
  std::string text;
  for (int i = 0; i < 6; ++i) text += record_of(fixture, "00000000deadbeef", 0.4, 0.3);
  CheckRecords records = read_records(text);
  ASSERT_EQ(records.loads.size(), 1U);
  EXPECT_EQ(records.repeated, 5);
  const Settling settling = settle(records, fixture);
  EXPECT_EQ(settling.moved, 0);
  EXPECT_NE(settling.lines[0].find("left as it is: 1 load at this place, 5 are needed"), std::string::npos)
      << settling.lines[0];
  // the same picture measured otherwise, by a mended fixture file for instance: its last record stands
  records =
      read_records(record_of(fixture, "00000000deadbeef", 0.4, 0.3) + record_of(fixture, "00000000deadbeef", 0.1, 0.3));
  ASSERT_EQ(records.loads.size(), 1U);
  EXPECT_NEAR(records.loads[0].slots[0].across_mm, 0.1, 1e-9);
  // other pictures of other loads all count, those of older versions (no digest), too
  EXPECT_EQ(read_records(record_of(fixture, "a", 0.4, 0.3) + record_of(fixture, "b", 0.39, 0.3) +
                         record_of(fixture, "", 0.38, 0.3) + record_of(fixture, "", 0.37, 0.3))
                .loads.size(),
            4U);
  EXPECT_EQ(read_records(record_of(fixture, "", 0.4, 0.3) + record_of(fixture, "", 0.4, 0.3)).loads.size(), 1U);
  // a copy saved anew, or a second photo of the load: three slots that all come as near to where they were
  Slot third = fixture.slots[0];
  third.id = "3";
  third.centre_mm.y() += 80.0;
  fixture.slots.push_back(third);
  EXPECT_EQ(read_records(record_of(fixture, "a", 0.4, 0.3) + record_of(fixture, "b", 0.41, 0.33)).loads.size(), 1U);
  EXPECT_EQ(read_records(record_of(fixture, "a", 0.4, 0.3) + record_of(fixture, "b", 0.5, 0.4)).loads.size(), 2U);
}

TEST(Settle, MovesSlotsThatEnoughLoadsAgreeOn) {
  const Fixture fixture = two_slots();
  const Settling settling = settle(loads(fixture, 8, 0.4, 0.05, 3), fixture);
  EXPECT_EQ(settling.moved, 2);
  ASSERT_TRUE(settling.moves[0] && settling.moves[1]);
  // across is +Y for the first slot and -X for the second; the mean of 8 lies within 3 x 0.05 / sqrt(8)
  EXPECT_NEAR(settling.moves[0]->by_mm.y(), 0.4, 0.06);
  EXPECT_EQ(settling.moves[0]->by_mm.x(), 0.0);
  EXPECT_NEAR(settling.moves[1]->by_mm.x(), -0.4, 0.06);
  EXPECT_NE(settling.moves[0]->why.find("8 loads"), std::string::npos);
}

TEST(Settle, LeavesWhatLoadsDoNotJustify) {
  const Fixture fixture = two_slots();
  EXPECT_EQ(settle(loads(fixture, 4, 0.4, 0.05, 4), fixture).moved, 0);    // too few
  EXPECT_EQ(settle(loads(fixture, 12, 0.1, 0.5, 5), fixture).moved, 0);    // chance
  EXPECT_EQ(settle(loads(fixture, 30, 0.04, 0.01, 6), fixture).moved, 0);  // less than a load's own uncertainty
  Fixture elsewhere = fixture;
  elsewhere.slots[0].centre_mm.x() += 1.0;
  const Settling settling = settle(loads(fixture, 8, 0.4, 0.05, 7), elsewhere);
  EXPECT_FALSE(settling.moves[0]);
  EXPECT_NE(settling.lines[0].find("8 more"), std::string::npos) << settling.lines[0];
  EXPECT_TRUE(settling.moves[1]);
}

TEST(Trend, TellsEachFixtureApart) {
  const Fixture fixture = two_slots();
  CheckRecords records = loads(fixture, 10, 0.2, 0.05, 8);
  LoadRecord other = records.loads[0];
  other.fixture = "other jig";
  records.loads.push_back(other);
  const std::vector<Trend> trends = trends_of(records);
  ASSERT_EQ(trends.size(), 2U);
  EXPECT_EQ(trends[0].loads.size(), 10U);
  ASSERT_EQ(trends[0].slots.size(), 2U);
  EXPECT_NEAR(trends[0].slots[0].across_mm.mean, 0.2, 0.06);
  EXPECT_TRUE(trends[0].slots[0].across_mm.low);
}

}  // namespace
}  // namespace jigtrue
