// A camera and a fixture, ready for photo after photo: the bytes of a photo in, results and the bytes of files out. The
// commands are thin over it; it reads and writes no file and prints nothing.
//
//   Workbench bench({camera, fixture});
//   const CheckedLoad load = bench.check({"load.jpg", bytes}, "2024-05-01T12:00:00Z");
//   for (const SlotResult& slot : load.result.slots) ...
//   for (const FileContent& file : load.files) ...  // report.json, layout.svg, ...
#pragma once
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/workbench/load_check.hpp"

#include <functional>
#include <string>
#include <vector>

namespace jigtrue {

// What stays from photo to photo.
struct BenchSetup {
  CameraSource camera;
  Fixture fixture;
  PlaceOptions place = {};
  std::optional<Machine> machine = {};
  std::optional<Photo> empty = {};             // of the fixture without blanks
  DesignArt art = {};                          // what the layout holds; without it, the designs' boxes
  std::vector<std::string> design_notes = {};  // what reading the drawing left to say
  bool draw_closeup = false;                   // of the slots
  bool apply_figures = false;                  // of the machine, as the camera's file has them
  std::optional<BeamOffset> beam = {};         // to be taken off every place
  std::string beam_source = {};                // where that comes from, for messages
  std::string software_version = {};
};

// Artwork that is known only once the load is judged (names for the slots that are ready), and the load with the
// designs that it asks for and whether they fit.
using ArtForLoad = std::function<DressedLoad(JudgedLoad)>;

struct CheckedLoad {
  CheckResult result;  // as placed
  DesignArt art;       // what its layout holds
  LoadRecord record;
  std::vector<FileContent> files;  // their names only, in no folder
  std::string move_picture;        // JPEG; when the camera was placed anew and that was asked for
  std::string closeup;             // JPEG; where asked for
};

class Workbench {
 public:
  // Throws InputError when figures of the machine are to be applied and the camera's file has none.
  explicit Workbench(BenchSetup setup);

  // Equal photos give equal results, whatever photos came before. Throws InputError: the photo cannot be read, is not
  // the camera's, shows nothing that can be measured; CameraMoved.
  [[nodiscard]] CheckedLoad check(const EncodedPhoto& encoded, const std::string& time);
  // The same of a photo already read. `art_for` in place of the setup's artwork, where given.
  [[nodiscard]] CheckedLoad check(Photo photo, const std::string& time, const ArtForLoad& art_for = {});

  [[nodiscard]] const BenchSetup& setup() const { return setup_; }

 private:
  BenchSetup setup_;
  EdgeModelStore models_;
};

}  // namespace jigtrue
