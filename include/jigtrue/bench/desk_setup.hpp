// What a bench is started with: its camera, the fixtures and designs that may be chosen, what is known of the machine.
#pragma once
#include "jigtrue/layout/design_art.hpp"
#include "jigtrue/layout/text_outlines.hpp"
#include "jigtrue/workbench/workbench.hpp"

#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

struct FixtureOffer {
  std::string file;  // as the user named it
  Fixture fixture;
  std::optional<Machine> machine;
  std::optional<Photo> empty;  // of the fixture without blanks
};

// What may be engraved: a drawing, or the passes of a job.
struct DesignOffer {
  std::string file;
  std::vector<Pass> passes;
  std::optional<Vector2d> size_mm;
  std::vector<std::string> notes;
  std::optional<PassTiming> names_timing;  // of the job's pass "names"
  double travel_mm_s = 300.0;
};

struct DeskSetup {
  CameraSource camera;
  std::vector<FixtureOffer> fixtures;                 // one or more
  std::vector<DesignOffer> designs = {};              // none: the fixtures' design boxes
  std::shared_ptr<const OutlineFont> font = nullptr;  // for names; without it they are listed, not engraved
  std::optional<double> text_height_mm = {};          // none: as tall as the longest name of the batch allows
  bool repose = false;
  bool apply_figures = false;
  std::optional<BeamOffset> beam = {};  // to be taken off every place
  std::string beam_source = {};
  std::string software_version = {};
  std::function<std::string()> now = {};  // ISO 8601, UTC

  // By number, the file as it was named, its name, its stem, or the fixture's own name.
  [[nodiscard]] std::optional<std::size_t> fixture_called(const std::string& name) const;
  [[nodiscard]] std::optional<std::size_t> design_called(const std::string& name) const;
  [[nodiscard]] std::string design_name(std::size_t design) const;  // empty where there is none of that number
};

// What a workbench for this fixture and this design needs; for a design that there is not, the fixture's own box.
[[nodiscard]] BenchSetup bench_setup(const DeskSetup& setup, std::size_t fixture, std::size_t design);

}  // namespace jigtrue
