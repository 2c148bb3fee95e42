// Where the camera stood when a load's photo was taken: as its file says and the bed's marks confirm, or by the
// fixture's own marks.
#pragma once
#include "jigtrue/base/error.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/match_marks.hpp"
#include "jigtrue/fixture/fixture.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace jigtrue {

// A camera in its place, or the lens of one that the fixture's marks, taken to stand at their nominal places, shall
// place.
using CameraSource = std::variant<CameraRecord, LensRecord>;

struct PlaceOptions {
  bool repose = false;          // place a camera that has moved anew by the bed's marks, instead of refusing
  bool draw_move = false;       // when it has moved: a picture of where its marks were expected and where they are
  std::optional<PhotoTop> top;  // for marks that look the same from several sides
};

// The camera no longer stands where its file says, and was not or could not be placed anew. The failure's code is
// camera_moved or marks_hidden.
class CameraMoved : public InputError {
 public:
  CameraMoved(const std::string& photo, Failure failure, std::string picture);
  [[nodiscard]] const std::string& picture() const { return picture_; }  // JPEG; empty when not asked for

 private:
  std::string picture_;
};

struct PlacedCamera {
  Camera camera;
  double lens_error_px = 0.0;
  std::optional<WitnessFinding> witness;
  std::vector<std::string> notes;  // whole sentences for the person at the machine
  std::string move_picture;        // JPEG; when it was placed anew and that was asked for
  bool self_located = false;
};

// The photo is turned where its orientation tag is not that of the calibration's photos, or the bed's marks show that
// it lies otherwise; the notes say so. Throws CameraMoved, and InputError when the photo's size is not the camera's or
// the fixture's marks do not place it.
[[nodiscard]] PlacedCamera place_camera(const CameraSource& source, Photo& photo, const Fixture& fixture,
                                        const PlaceOptions& options);

}  // namespace jigtrue
