// A random stream of its own for each test, the same on every machine, from the test's name.
#pragma once
#include <cstdint>
#include <random>
#include <string>

#include <gtest/gtest.h>

namespace jigtrue::test {

inline std::uint64_t seed_by_name() {
  const auto* info = testing::UnitTest::GetInstance()->current_test_info();
  std::uint64_t hash = 14695981039346656037ULL;  // FNV-1a
  for (const char c : std::string(info->test_suite_name()) + "." + info->name())
    hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  return hash;
}

inline std::mt19937_64 seeded_by_name() { return std::mt19937_64(seed_by_name()); }

}  // namespace jigtrue::test
