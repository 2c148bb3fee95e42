// Judges the places that a view from above proposes, as a check would, and keeps what came of each.
#pragma once
#include "jigtrue/detection/propose_places.hpp"
#include "jigtrue/measurement/judge_slot.hpp"
#include "jigtrue/measurement/scout_photo.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

// kMoreThanChance allows for the places of a slot's window. So many more such windows, of 10 x 12 mm and 6 degrees,
// fill a bed of 600 x 450 mm and half a turn: 67,500, log 11.
constexpr double kMoreThanChanceOnBed = kMoreThanChance + 11.0;

struct Scout {
  const Photo& photo;
  const Camera& camera;
  double lens_error_px;
  const LikeFile& like;
  const ScoutOptions& options;
  EdgeModelStore& models;
};

class BlankSearch {
 public:
  explicit BlankSearch(const Scout& scout) : scout_(scout) {}

  // Judges these proposals, most support first, as long as the next ones hold blanks.
  void judge(const std::vector<ProposedPlace>& proposed);

  // Where all blanks found lie side by side in one line, takes what lies in it for a blank on less evidence: there are
  // fewer such places than a bed has.
  void take_in_line();

  // Judges those of these proposals that lie across a blank found, and so are no other reading of it.
  void judge_across(const std::vector<ProposedPlace>& proposed);

  // Judges the few best of these, of other sizes, that no blank found explains: neither by lying there itself nor by
  // having one of its sides there.
  void judge_other_sizes(const std::vector<ProposedPlace>& proposed, double least_support, std::size_t most);

  // What lies where the grid has a slot: a blank must only do there what it must in any slot. Nothing where none does.
  // `seen`: what a check says of each.
  [[nodiscard]] std::vector<std::optional<ScoutedPlace>> look_in(const std::vector<Slot>& slots,
                                                                 const RegularGrid& grid,
                                                                 std::vector<SlotResult>& seen);

  // What another load of the same jig holds: a slot's blanks of all loads tell where it lies by their mean.
  void add_load(const std::vector<ScoutedPlace>& more);

  void leave_out(std::size_t blank);

  [[nodiscard]] const std::vector<ScoutedPlace>& blanks() const { return blanks_; }
  [[nodiscard]] const std::vector<ScoutedPlace>& others() const { return others_; }

 private:
  const Scout& scout_;
  std::vector<ScoutedPlace> blanks_;
  std::vector<ScoutedPlace> others_;

  [[nodiscard]] double faintest() const;
  void take(std::vector<ScoutedPlace> places);
  [[nodiscard]] bool is_read_again(const ScoutedPlace& place);
};

}  // namespace jigtrue
