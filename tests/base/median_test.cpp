#include "jigtrue/base/median.hpp"

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

TEST(Median, IsTheMiddleValueInWhateverOrder) { EXPECT_EQ(median({9.0, 1.0, 5.0}), 5.0); }
TEST(Median, IsTheUpperOneOfTwo) { EXPECT_EQ(median({4.0, 1.0, 2.0, 9.0}), 4.0); }
TEST(Median, OfNothingIsNothing) { EXPECT_EQ(median({}), std::nullopt); }

}  // namespace
}  // namespace jigtrue
