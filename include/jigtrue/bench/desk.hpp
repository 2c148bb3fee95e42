// The desk of a bench: takes photo after photo, has each checked, gives pieces of the batch to the blanks that are
// ready, and writes the book. One photo is checked at a time; the others wait.
#pragma once
#include "jigtrue/bench/book.hpp"
#include "jigtrue/bench/desk_setup.hpp"
#include "jigtrue/bench/turns.hpp"
#include "jigtrue/workbench/workbench.hpp"

#include <condition_variable>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace jigtrue {

struct PhotoIn {
  std::string name;  // for people
  std::string bytes;
  std::optional<std::size_t> fixture = std::nullopt;  // by its place in the setup; none: the one that is chosen
  std::optional<std::size_t> design = std::nullopt;
};

// A photo that was not used: why, in one line, and what shows it.
struct Refusal {
  std::string time;
  std::string photo;
  std::string text;
  std::string picture;  // JPEG; of where the bed's marks are, when the camera has moved
};

struct DeskState {
  std::uint64_t version = 0;  // grows with every change
  int waiting = 0;            // photos that came and are not judged yet
  std::size_t fixture = 0;
  std::size_t design = 0;
  std::optional<Refusal> refusal;     // of the last photo, if it was not used
  std::vector<std::string> cautions;  // on the last photo, to be read before anything is engraved
  std::vector<std::string> remarks;   // on it, besides
  std::string camera;                 // how it stands by the bed's marks, in words; empty before the first photo
};

class Desk {
 public:
  // The book must outlive the desk. Goes on with the fixture and the design of the book's last load.
  Desk(DeskSetup setup, Book& book);

  // The load's id, once it is in the book. Throws InputError: the photo was not used, or the book cannot be written;
  // the state says so, too.
  std::int64_t take(const PhotoIn& photo);
  // A photo of a load that was burned, before anything is taken out: what was burned there goes into the book, and
  // where a blank carries no mark its piece goes back to the batch. Throws InputError as `take`; also when nothing was
  // burned.
  void inspect(std::int64_t load, const PhotoIn& photo);
  void refuse(const std::string& photo, const std::string& text, const std::string& picture = {});

  void choose(std::size_t fixture, std::size_t design);  // throws InputError when there is none of that number
  void burned(std::int64_t load);
  void set_outcome(std::int64_t load, const std::string& slot, const std::string& outcome);
  void choose_batch(std::optional<std::int64_t> batch);
  std::int64_t begin_batch(const std::string& name, const std::vector<std::string>& pieces);

  [[nodiscard]] DeskState state() const;
  // Waits until the version is not `seen` or the time is over; the version then.
  [[nodiscard]] std::uint64_t wait_for_change(std::uint64_t seen, double seconds) const;
  void wake();  // ends all waiting at once

  [[nodiscard]] const DeskSetup& setup() const { return setup_; }
  [[nodiscard]] const Book& book() const { return book_; }

 private:
  [[nodiscard]] Workbench& workbench(std::size_t fixture, std::size_t design);
  std::int64_t take_next(const PhotoIn& photo);
  void inspect_next(std::int64_t load, const PhotoIn& photo);
  void in_turn(const PhotoIn& photo, const std::function<void()>& work);  // and refuses the photo where that throws
  [[nodiscard]] std::vector<std::string> doubts_by_facts(const PhotoIn& photo);
  void changed(const std::function<void(DeskState&)>& change);

  DeskSetup setup_;
  Book& book_;
  Turns turns_;  // photos are checked in the order in which they came
  std::map<std::pair<std::size_t, std::size_t>, std::unique_ptr<Workbench>> workbenches_;
  mutable std::mutex mutex_;
  mutable std::condition_variable change_;
  DeskState state_;
  std::optional<double> focal_mm_;  // of the photos so far, as they say themselves; used while checking
};

}  // namespace jigtrue
