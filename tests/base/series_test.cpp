#include "jigtrue/base/series.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

TEST(Series, HasTheMeanSpreadAndLimitsOfAChartForSingleValues) {
  const std::vector<double> values{1, 2, 1, 2, 1, 2, 1, 2};
  const Series series = series_of({0, 1, 2, 3, 4, 5, 6, 7}, values);
  EXPECT_DOUBLE_EQ(series.mean, 1.5);
  EXPECT_NEAR(series.spread, std::sqrt(8 * 0.25 / 7), 1e-12);
  ASSERT_TRUE(series.low && series.high);
  EXPECT_NEAR(*series.low, 1.5 - 2.66, 1e-12);
  EXPECT_NEAR(*series.high, 1.5 + 2.66, 1e-12);
  EXPECT_FALSE(series.last_is_out());
  EXPECT_FALSE(series_of({0, 1}, {1, 2}).low);
}

// Percentage points of Student's t, two-sided 95 %, from memory of the printed tables.
TEST(StudentsT, IsThatOfTheTables) {
  EXPECT_NEAR(students_t(1), 12.706, 0.01 * 12.706);
  EXPECT_NEAR(students_t(2), 4.303, 0.01 * 4.303);
  EXPECT_NEAR(students_t(3), 3.182, 0.01 * 3.182);
  EXPECT_NEAR(students_t(4), 2.776, 0.01 * 2.776);
  EXPECT_NEAR(students_t(10), 2.228, 0.01 * 2.228);
  EXPECT_NEAR(students_t(30), 2.042, 0.01 * 2.042);
}

}  // namespace
}  // namespace jigtrue
