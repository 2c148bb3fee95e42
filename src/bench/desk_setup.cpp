#include "jigtrue/bench/desk_setup.hpp"

#include "jigtrue/layout/usable_band.hpp"

#include <algorithm>
#include <filesystem>

namespace jigtrue {
namespace {

std::optional<std::size_t> called(const std::string& name, std::size_t count,
                                  const std::function<std::vector<std::string>(std::size_t)>& names) {
  for (std::size_t i = 0; i < count; ++i) {
    const std::vector<std::string> known = names(i);
    if (std::find(known.begin(), known.end(), name) != known.end()) return i;
  }
  return std::nullopt;
}

std::vector<std::string> names_of_file(const std::string& file) {
  const std::filesystem::path path = file;
  return {file, path.filename().string(), path.stem().string()};
}

}  // namespace

std::optional<std::size_t> DeskSetup::fixture_called(const std::string& name) const {
  return called(name, fixtures.size(), [&](std::size_t i) {
    std::vector<std::string> names = names_of_file(fixtures[i].file);
    names.push_back(fixtures[i].fixture.name);
    names.push_back(std::to_string(i + 1));
    return names;
  });
}

std::optional<std::size_t> DeskSetup::design_called(const std::string& name) const {
  return called(name, designs.size(), [&](std::size_t i) {
    std::vector<std::string> names = names_of_file(designs[i].file);
    names.push_back(std::to_string(i + 1));
    return names;
  });
}

std::string DeskSetup::design_name(std::size_t design) const {
  if (design >= designs.size()) return {};
  return std::filesystem::path(designs[design].file).filename().string();
}

BenchSetup bench_setup(const DeskSetup& desk, std::size_t fixture, std::size_t design) {
  const FixtureOffer& offer = desk.fixtures[fixture];
  BenchSetup setup{desk.camera, offer.fixture};
  setup.machine = offer.machine;
  setup.empty = offer.empty;
  setup.place.repose = desk.repose;
  setup.place.draw_move = true;
  setup.draw_closeup = true;
  setup.apply_figures = desk.apply_figures;
  setup.beam = desk.beam;
  setup.beam_source = desk.beam_source;
  setup.software_version = desk.software_version;
  if (design < desk.designs.size()) {
    const DesignOffer& art = desk.designs[design];
    if (!art.passes.empty()) setup.art.common = std::make_shared<const std::vector<Pass>>(art.passes);
    if (art.size_mm) set_design_size(setup.fixture, *art.size_mm);
    setup.design_notes = art.notes;
  }
  return setup;
}

}  // namespace jigtrue
