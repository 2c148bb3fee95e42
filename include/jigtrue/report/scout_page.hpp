// What scouting a jig found, for people: the photo with every slot numbered, and a page about it.
#pragma once
#include "jigtrue/image/photo.hpp"
#include "jigtrue/measurement/scout_photo.hpp"

#include <string>
#include <vector>

namespace jigtrue {

struct ScoutPageInputs {
  std::string photo_file;
  std::string fixture_file;  // that was written
  std::string next_command;
  std::vector<std::string> notes;  // beside the result's own
  std::vector<std::string> sizes;  // that the photo measured, a sentence each
  std::string software_version;
};

// What is worth showing of what was not taken for a blank: most support first, named "a", "b", ... in this order.
[[nodiscard]] std::vector<ScoutedPlace> shown_others(const ScoutResult& result);

// "5 slots, 4 with a blank; slot 3 is a gap"
[[nodiscard]] std::string scout_headline(const ScoutResult& result);

// The part of the photo that holds them, with the bed's X and Y and front, and each slot's along and across.
[[nodiscard]] std::string scout_picture_jpeg(const ScoutResult& result, const Photo& photo, const Camera& camera);
[[nodiscard]] std::string scout_html(const ScoutResult& result, const std::string& picture_jpeg,
                                     const ScoutPageInputs& inputs);

}  // namespace jigtrue
