// What a person should know of a lens's fit, in whole sentences. Internal.
#pragma once
#include "jigtrue/calibration/lens_fit.hpp"

#include <cstddef>
#include <string>

namespace jigtrue {

// On the focal length where the photos leave it open; throws InputError where no bound can be stated of it.
void add_focal_note(LensFit& result);

// On few photos, parts of the picture without a board, corners that do not fit, a lens that no model suits.
void add_photo_notes(LensFit& result, std::size_t used_photos);

// On photos that contradict each other; most_contrary: the one that does so most.
void add_contradiction_note(LensFit& result, const std::string& most_contrary);

}  // namespace jigtrue
