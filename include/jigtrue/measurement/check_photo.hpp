// A photo of a loaded fixture -> what lies in every slot.
#pragma once
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/measurement/measure_slot.hpp"

namespace jigtrue {

struct CheckOptions {
  SearchRange range;
  double lens_error_px = 0.0;
  const Photo* empty = nullptr;  // of the same jig without blanks (empty_view.hpp)
  int threads = 2;               // results do not depend on it
};

// Throws InputError when the photo's size is not the lens's.
void refuse_other_size(const Photo& photo, const Lens& lens);

// Throws InputError when the photo's size is not the camera's, when it shows none of the slots or only darkness, and
// when no blank can be measured because it is burned out or blurred (photo_fault.hpp). Where nothing can be told for
// another cause every slot is doubtful, with a note.
[[nodiscard]] PhotoFindings check_photo(const Photo& photo, const Camera& camera, const Fixture& fixture,
                                        const CheckOptions& options);
// The same with edge models of former photos, for many photos alike.
[[nodiscard]] PhotoFindings check_photo(const Photo& photo, const Camera& camera, const Fixture& fixture,
                                        const CheckOptions& options, EdgeModelStore& models);

}  // namespace jigtrue
