// The demo's calibration, made once for all tests of the command line.
#pragma once
#include "cli/command_run.hpp"
#include "support/temporary_folder.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace jigtrue::test {

inline std::filesystem::path demo() { return std::filesystem::path(JIGTRUE_SOURCE_DIR) / "fixtures" / "demo"; }

class DemoCalibration {
 public:
  DemoCalibration() {
    std::vector<std::string> arguments = {"lens"};
    for (int i = 0; i < 14; ++i)
      arguments.push_back(
          (demo() / "cameras/attic/lens" / ((i < 10 ? "0" : "") + std::to_string(i) + ".jpg")).string());
    for (const std::string& more : {std::string("--board"), std::string("10x7x20"), std::string("-o"), lens()})
      arguments.push_back(more);
    lens_run = command(arguments);
    pose_run = command({"pose", pose_photo(), "--lens", lens(), "--board", "10x7x20", "--board-at", "78,302,-88",
                        "--board-height", "3", "--witness", "12,12", "--witness", "288,388", "-o", camera()});
  }

  [[nodiscard]] std::string lens() const { return (folder_ / "lens.json").string(); }
  [[nodiscard]] std::string camera() const { return (folder_ / "camera.json").string(); }
  [[nodiscard]] static std::string pose_photo() { return (demo() / "cameras/attic/pose.jpg").string(); }
  [[nodiscard]] static std::string photo() { return (demo() / "pens/photo.jpg").string(); }
  [[nodiscard]] static std::string fixture() { return (demo() / "pens/fixture.json").string(); }

  CommandResult lens_run;
  CommandResult pose_run;

 private:
  TemporaryFolder folder_;
};

inline const DemoCalibration& calibration() {
  static const DemoCalibration made;
  return made;
}

}  // namespace jigtrue::test
