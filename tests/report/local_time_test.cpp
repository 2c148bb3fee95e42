#include "jigtrue/report/local_time.hpp"

#include <cstdlib>
#include <ctime>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// POSIX time zones: the sign counts west of Greenwich.
class LocalTime : public testing::Test {
 protected:
  void SetUp() override {
    if (const char* zone = std::getenv("TZ")) before_ = zone;
  }
  void TearDown() override { zone(before_.c_str()); }
  static void zone(const char* name) {
    setenv("TZ", name, 1);
    tzset();
  }

 private:
  std::string before_ = "UTC0";
};

TEST_F(LocalTime, IsWhatTheClocksThereShow) {
  zone("XXX-2");
  EXPECT_EQ(local_time("2024-05-01T12:00:00Z"), "1 May 2024, 14:00");
  EXPECT_EQ(local_time("2024-12-31T23:05:59Z"), "1 Jan 2025, 01:05");
  zone("XXX5:30");
  EXPECT_EQ(local_time("2024-03-01T02:00:00Z"), "29 Feb 2024, 20:30");
}

TEST_F(LocalTime, LeavesOtherTextsAlone) {
  for (const char* text : {"", "yesterday", "2024-05-01", "2024-05-01T12:00:00+02", "2024-05-01T12:00:00Z or so"})
    EXPECT_EQ(local_time(text), text);
}

}  // namespace
}  // namespace jigtrue
