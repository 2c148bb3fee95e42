#include "jigtrue/bench/desk.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/image/exif_facts.hpp"
#include "jigtrue/image/photo_digest.hpp"
#include "jigtrue/layout/placement.hpp"
#include "jigtrue/layout/run_time.hpp"
#include "jigtrue/report/read_laid_load.hpp"
#include "jigtrue/report/standing.hpp"
#include "jigtrue/workbench/inspect_photo.hpp"

#include <algorithm>
#include <chrono>
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

// The load that this is the very picture of, if any. Throws InputError where that was burned already.
std::optional<std::int64_t> load_not_burned(const Book& book, const std::string& digest, const std::string& photo) {
  const std::optional<Book::Seen> seen = book.seen(digest);
  if (!seen) return std::nullopt;
  if (seen->burned)
    throw input_error(photo, "this is the photo of load " + std::to_string(seen->load) + ", which was burned already",
                      "take a new photo of what lies there now");
  return seen->load;
}

}  // namespace

Desk::Desk(DeskSetup setup, Book& book) : setup_(std::move(setup)), book_(book) {
  const std::optional<BookLoad> last = book_.last_load();
  if (!last) return;
  state_.fixture = setup_.fixture_called(last->fixture).value_or(0);
  state_.design = setup_.design_called(last->design).value_or(0);
}

Workbench& Desk::workbench(std::size_t fixture, std::size_t design) {
  std::unique_ptr<Workbench>& kept = workbenches_[{fixture, design}];
  if (kept) return *kept;
  kept = std::make_unique<Workbench>(bench_setup(setup_, fixture, design));
  return *kept;
}

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
    const Turns::Turn one_at_a_time(turns_);
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
  Photo photo = read_photo(EncodedPhoto{in.name, bytes_in(in)});
  std::optional<std::int64_t> repeated = load_not_burned(book_, photo_digest(photo), in.name);
  Dressing dressing;
  const CheckedLoad checked = bench.check(std::move(photo), time, [&](JudgedLoad judged) {
    // of a photo that was turned first, another one
    if (const auto load = load_not_burned(book_, judged.result.photo_digest, in.name)) repeated = load;
    dressing = dressed(setup_, book_, batch, offer, bench.setup().art, judged.result);
    return DressedLoad{std::move(judged), dressing.art};
  });
  const Placement placement = place_designs(checked.result, bench.setup().machine, checked.art);
  BookLoad load = book_load(checked, placement, dressing.pieces);
  load.time = time;
  load.photo = in.name;
  load.design = setup_.design_name(design);
  if (batch && !dressing.pieces.empty()) load.batch = batch->id;
  if (const RunTime run =
          estimate_run_time(placement, offer != nullptr ? offer->travel_mm_s : DesignOffer{}.travel_mm_s);
      !run.passes.empty())
    load.run_s = run.seconds;
  std::vector<std::string> warned = doubts_by_facts(in);
  if (batch && batch->named && !setup_.font && !dressing.pieces.empty())
    warned.emplace_back("The layout holds no names: start the bench with --font FILE to have them set.");
  if (repeated)
    warned.push_back("This is the very picture of load " + std::to_string(*repeated) +
                     ", sent again: what was changed since does not show in it.");
  if (std::optional<std::string> same = lies_as_burned(book_, load)) warned.push_back(*std::move(same));
  for (std::string& caution : cautions(checked.result, bench.setup().machine)) warned.push_back(std::move(caution));
  const std::int64_t id = book_.add_load(load, book_files(checked, placement));
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

std::vector<std::string> Desk::doubts_by_facts(const PhotoIn& photo) {
  const ExifFacts facts = exif_facts_of_photo(bytes_in(photo));
  std::vector<std::string> told;
  if (!lens_of(setup_.camera).focal_mm) {
    told = focal_doubts(facts, focal_mm_);
    if (!focal_mm_) focal_mm_ = facts.focal_mm;
  }
  if (std::optional<std::string> stale = stale_photo(facts.taken, setup_.now())) told.push_back(*std::move(stale));
  return told;
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
