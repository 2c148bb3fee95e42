#include "jigtrue/bench/desk.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/image/exif_facts.hpp"
#include "jigtrue/image/photo_digest.hpp"
#include "jigtrue/layout/layout_dxf.hpp"
#include "jigtrue/layout/placement.hpp"
#include "jigtrue/layout/run_time.hpp"
#include "jigtrue/layout/usable_band.hpp"
#include "jigtrue/report/read_laid_load.hpp"
#include "jigtrue/report/standing.hpp"
#include "jigtrue/workbench/inspect_photo.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <set>
#include <span>

#include "bench/book_entries.hpp"
#include "bench/dressing.hpp"
#include "bench/photo_doubts.hpp"

namespace jigtrue {
namespace {

std::span<const unsigned char> bytes_in(const PhotoIn& photo) {
  return {reinterpret_cast<const unsigned char*>(photo.bytes.data()), photo.bytes.size()};
}

const LensRecord& lens_of(const CameraSource& source) {
  const auto* record = std::get_if<CameraRecord>(&source);
  return record != nullptr ? record->lens : std::get<LensRecord>(source);
}

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

Desk::Desk(DeskSetup setup, Book& book) : setup_(std::move(setup)), book_(book) {
  const std::optional<BookLoad> last = book_.last_load();
  if (!last) return;
  state_.fixture = fixture_called(last->fixture).value_or(0);
  state_.design = design_called(last->design).value_or(0);
}

std::optional<std::size_t> Desk::fixture_called(const std::string& name) const {
  return called(name, setup_.fixtures.size(), [&](std::size_t i) {
    std::vector<std::string> names = names_of_file(setup_.fixtures[i].file);
    names.push_back(setup_.fixtures[i].fixture.name);
    names.push_back(std::to_string(i + 1));
    return names;
  });
}

std::optional<std::size_t> Desk::design_called(const std::string& name) const {
  return called(name, setup_.designs.size(), [&](std::size_t i) {
    std::vector<std::string> names = names_of_file(setup_.designs[i].file);
    names.push_back(std::to_string(i + 1));
    return names;
  });
}

std::string Desk::design_name(std::size_t design) const {
  if (design >= setup_.designs.size()) return {};
  return std::filesystem::path(setup_.designs[design].file).filename().string();
}

Workbench& Desk::workbench(std::size_t fixture, std::size_t design) {
  std::unique_ptr<Workbench>& kept = workbenches_[{fixture, design}];
  if (kept) return *kept;
  const FixtureOffer& offer = setup_.fixtures[fixture];
  BenchSetup setup{setup_.camera, offer.fixture};
  setup.machine = offer.machine;
  setup.empty = offer.empty;
  setup.place.repose = setup_.repose;
  setup.place.draw_move = true;
  setup.draw_closeup = true;
  setup.apply_figures = setup_.apply_figures;
  setup.beam = setup_.beam;
  setup.beam_source = setup_.beam_source;
  setup.software_version = setup_.software_version;
  if (design < setup_.designs.size()) {
    const DesignOffer& art = setup_.designs[design];
    if (!art.passes.empty()) setup.art.common = std::make_shared<const std::vector<Pass>>(art.passes);
    if (art.size_mm) set_design_size(setup.fixture, *art.size_mm);
    setup.design_notes = art.notes;
  }
  kept = std::make_unique<Workbench>(std::move(setup));
  return *kept;
}

// First come, first served: by a mutex alone one photo could be passed over again and again.
class Desk::Turn {
 public:
  explicit Turn(Desk& desk) : desk_(desk) {
    std::unique_lock<std::mutex> guard(desk_.mutex_);
    const std::uint64_t mine = ++desk_.last_turn_;
    desk_.change_.wait(guard, [&] { return desk_.turn_ == mine; });
  }
  Turn(const Turn&) = delete;
  Turn& operator=(const Turn&) = delete;
  ~Turn() {
    {
      const std::lock_guard<std::mutex> guard(desk_.mutex_);
      ++desk_.turn_;
    }
    desk_.change_.notify_all();
  }

 private:
  Desk& desk_;
};

std::int64_t Desk::take(const PhotoIn& photo) {
  std::int64_t id = 0;
  in_turn(photo, [&] { id = take_next(photo); });
  return id;
}

void Desk::inspect(std::int64_t load, const PhotoIn& photo) {
  in_turn(photo, [&] { inspect_next(load, photo); });
}

void Desk::in_turn(const PhotoIn& photo, const std::function<void()>& work) {
  changed([](DeskState& state) { ++state.waiting; });
  try {
    const Turn one_at_a_time(*this);
    work();
    changed([](DeskState& state) { --state.waiting; });
  } catch (const InputError& error) {
    const auto* moved = dynamic_cast<const CameraMoved*>(&error);
    refuse(photo.name, error.what(), moved != nullptr ? moved->picture() : std::string());
    changed([moved](DeskState& state) {
      --state.waiting;
      if (moved != nullptr) state.camera = "By the marks on the bed it does not stand where it was calibrated";
    });
    throw;
  } catch (...) {
    refuse(photo.name, "a fault of the program, please report it");
    changed([](DeskState& state) { --state.waiting; });
    throw;
  }
}

std::int64_t Desk::take_next(const PhotoIn& in) {
  const DeskState before = state();
  const std::size_t fixture = in.fixture.value_or(before.fixture);
  const std::size_t design = in.design.value_or(before.design);
  Workbench& bench = workbench(fixture, design);
  const DesignOffer* offer = design < setup_.designs.size() ? &setup_.designs[design] : nullptr;
  const std::optional<Batch> batch = book_.current_batch();
  const std::string time = setup_.now();
  const EncodedPhoto encoded{in.name, bytes_in(in)};
  Dressing dressing;
  std::optional<std::int64_t> repeated;
  const auto look_up = [&](const std::string& digest) {
    const std::optional<Book::Seen> seen = book_.seen(digest);
    if (!seen) return;
    if (seen->burned)
      throw input_error(in.name,
                        "this is the photo of load " + std::to_string(seen->load) + ", which was burned already",
                        "take a new photo of what lies there now");
    repeated = seen->load;
  };
  Photo photo = read_photo(encoded);
  look_up(photo_digest(photo));
  const CheckedLoad checked = bench.check(std::move(photo), time, [&](CheckResult& result) {
    look_up(result.photo_digest);  // of a photo that was turned first, another one
    dressing = dressed(setup_, book_, batch, offer, bench.setup().art, result);
    return dressing.art;
  });
  const Placement placement = place_designs(checked.result, bench.setup().machine, checked.art);
  BookLoad load;
  load.time = time;
  load.photo = in.name;
  load.digest = checked.result.photo_digest;
  load.fixture = checked.result.fixture_name;
  load.design = design_name(design);
  load.headline = headline(checked.result);
  load.record = record_line(checked.record);
  if (batch && !dressing.pieces.empty()) load.batch = batch->id;
  if (const RunTime run = estimate_run_time(placement, offer != nullptr ? offer->travel_mm_s : 300.0);
      !run.passes.empty())
    load.run_s = run.seconds;
  std::set<std::string> placed;
  for (const PlacedDesign& one : placement.placed) placed.insert(one.slot_id);
  for (const SlotResult& slot : checked.result.slots) {
    const auto piece = dressing.pieces.find(slot.id);
    load.slots.push_back(book_slot(slot, placed.count(slot.id) > 0,
                                   piece != dressing.pieces.end() ? std::optional(piece->second) : std::nullopt));
  }
  std::vector<FileContent> files = checked.files;
  files.push_back({"layout.dxf", layout_dxf(placement)});
  files.push_back({"closeup.jpg", checked.closeup});
  if (!checked.move_picture.empty()) files.push_back({"moved.jpg", checked.move_picture});
  std::vector<std::string> warned = told_by_exif(in);
  if (batch && batch->named && !setup_.font && !dressing.pieces.empty())
    warned.emplace_back("The layout holds no names: start the bench with --font FILE to have them set.");
  if (repeated)
    warned.push_back("This is the very picture of load " + std::to_string(*repeated) +
                     ", sent again: what was changed since does not show in it.");
  if (std::optional<std::string> same = lies_as_burned(load)) warned.push_back(*std::move(same));
  for (std::string& caution : cautions(checked.result, bench.setup().machine)) warned.push_back(std::move(caution));
  const std::int64_t id = book_.add_load(load, files);
  changed([&](DeskState& state) {
    state.refusal.reset();
    state.cautions = warned;
    state.remarks = checked.result.notes;
    state.camera = camera_standing(checked.result);
    state.fixture = fixture;
    state.design = design;
  });
  return id;
}

void Desk::inspect_next(std::int64_t id, const PhotoIn& in) {
  const std::optional<BookLoad> load = book_.load(id);
  const std::string where = "load " + std::to_string(id);
  if (!load || load->burned.empty())
    throw input_error(where, "nothing was burned there yet", "press Burned once the machine has done it");
  const std::optional<std::string> report = book_.file(id, "report.json");
  if (!report) throw input_error(where, "its files were let go", "inspect a load while it lies there");
  InspectSetup setup{setup_.camera, read_laid_load({*report, where}, std::nullopt)};
  setup.place.repose = setup_.repose;
  setup.place.draw_move = true;
  setup.software_version = setup_.software_version;
  InspectedLoad seen = inspect_photo(setup, read_photo(EncodedPhoto{in.name, bytes_in(in)}), setup_.now());
  for (FileContent& file : seen.files)
    if (file.path == "annotated.jpg") file.path = "inspected.jpg";
  book_.add_inspection(id, seen.files, outcomes_of(seen.result));
  changed([](DeskState& state) { state.refusal.reset(); });
}

// What a check does not ask: it holds the focal length against the lens's, where the lens file says any.
std::vector<std::string> Desk::told_by_exif(const PhotoIn& photo) {
  const ExifFacts facts = exif_facts_of_photo(bytes_in(photo));
  std::vector<std::string> told;
  if (!lens_of(setup_.camera).focal_mm) {
    if (facts.zoom && *facts.zoom > 1.005)
      told.push_back("The photo was zoomed " + fixed_text(*facts.zoom, 1) +
                     " times: unless the lens was calibrated so, every place is wrong.");
    if (facts.focal_mm && focal_mm_ && std::abs(*facts.focal_mm / *focal_mm_ - 1.0) > 0.01)
      told.push_back("The photo was taken at " + fixed_text(*facts.focal_mm, 1) +
                     " mm, the first one of this bench at " + fixed_text(*focal_mm_, 1) +
                     " mm: another of the camera's lenses, or zoomed. Every place may be wrong.");
    if (!focal_mm_) focal_mm_ = facts.focal_mm;
  }
  if (std::optional<std::string> stale = stale_photo(facts.taken, setup_.now())) told.push_back(*std::move(stale));
  return told;
}

// Perhaps nobody loaded anew.
std::optional<std::string> Desk::lies_as_burned(const BookLoad& load) const {
  const std::vector<BookLoad> standing = book_.last_standing_loads(2);
  const auto burned =
      std::find_if(standing.begin(), standing.end(), [](const BookLoad& one) { return !one.burned.empty(); });
  if (burned == standing.end() || burned->fixture != load.fixture) return std::nullopt;
  if (!lie_alike(book_.load(burned->id)->slots, load.slots)) return std::nullopt;
  return "The blanks lie where they lay in load " + std::to_string(burned->id) +
         ", which was burned already: was the jig loaded anew?";
}

void Desk::refuse(const std::string& photo, const std::string& text, const std::string& picture) {
  changed([&](DeskState& state) { state.refusal = Refusal{setup_.now(), photo, text, picture}; });
}

void Desk::choose(std::size_t fixture, std::size_t design) {
  if (fixture >= setup_.fixtures.size())
    throw input_error("fixture", "there is none of that name", "choose one of the list");
  if (design >= std::max<std::size_t>(setup_.designs.size(), 1))
    throw input_error("design", "there is none of that name", "choose one of the list");
  changed([&](DeskState& state) {
    state.fixture = fixture;
    state.design = design;
  });
}

void Desk::burned(std::int64_t load) {
  book_.burn(load, setup_.now());
  changed([](DeskState&) {});
}

void Desk::set_outcome(std::int64_t load, const std::string& slot, const std::string& outcome) {
  book_.set_outcome(load, slot, outcome);
  changed([](DeskState&) {});
}

std::int64_t Desk::begin_batch(const std::string& name, const std::vector<std::string>& pieces) {
  const std::int64_t id = book_.add_batch(name, setup_.now(), pieces);
  changed([](DeskState&) {});
  return id;
}

void Desk::choose_batch(std::optional<std::int64_t> batch) {
  book_.choose_batch(batch);
  changed([](DeskState&) {});
}

DeskState Desk::state() const {
  const std::lock_guard<std::mutex> guard(mutex_);
  return state_;
}

std::uint64_t Desk::wait_for_change(std::uint64_t seen, double seconds) const {
  std::unique_lock<std::mutex> guard(mutex_);
  change_.wait_for(guard, std::chrono::duration<double>(seconds), [&] { return state_.version != seen; });
  return state_.version;
}

void Desk::wake() {
  changed([](DeskState&) {});
}

void Desk::changed(const std::function<void(DeskState&)>& change) {
  {
    const std::lock_guard<std::mutex> guard(mutex_);
    change(state_);
    ++state_.version;
  }
  change_.notify_all();
}

}  // namespace jigtrue
