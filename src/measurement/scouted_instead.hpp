// What scouting says of a photo that a fixture file does not fit as a whole.
#pragma once
#include "jigtrue/camera/camera.hpp"
#include "jigtrue/measurement/check_photo.hpp"

#include <string>

namespace jigtrue {

// Where no slot holds its blank, and the bed shows at least half as many such blanks elsewhere: a sentence that says
// where, and how a file for them is made. Empty otherwise, and for fixtures of several kinds of blank.
[[nodiscard]] std::string scouted_instead(const Photo& photo, const Camera& camera, const Fixture& fixture,
                                          const CheckOptions& options, const PhotoFindings& findings,
                                          EdgeModelStore& models);

}  // namespace jigtrue
