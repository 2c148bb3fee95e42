// What a call complains about.
#pragma once
#include "jigtrue/base/error.hpp"

#include <string>

#include <gtest/gtest.h>

namespace jigtrue::test {

// The message of the InputError that `call` throws; a test failure and an empty text if it throws none, or one of more
// than one line.
template <class Call>
std::string input_error_text(const Call& call) {
  try {
    call();
  } catch (const InputError& error) {
    std::string text = error.what();
    EXPECT_EQ(text.find('\n'), std::string::npos) << "more than one line: " << text;
    return text;
  }
  ADD_FAILURE() << "no InputError was thrown";
  return {};
}

}  // namespace jigtrue::test
