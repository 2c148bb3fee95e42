// Why there is no value, where the job must expect that: no board in this photo, a photo too dark. One type for all of
// them: the other half of an Outcome (outcome.hpp), and what an InputError carries (error.hpp).
#pragma once
#include <string>

namespace jigtrue {

// For those who decide by it; what people read is the text.
enum class FailureCode {
  unspecified,
  another_board,  // a board is seen, of other counts of squares
  part_of_board,  // some of its squares only
  slots_unseen,   // none lies in the picture
  photo_dark,
  photo_burned_out,
  photo_blurred,
  camera_moved,
  marks_hidden,  // none of the bed's marks is where it was
  disk_full,
};

struct Failure {
  std::string text;  // one clause in plain words, without a final stop
  FailureCode code = FailureCode::unspecified;
  std::string remedy = {};  // what a person can do; empty where whoever asked knows that better
};

}  // namespace jigtrue
