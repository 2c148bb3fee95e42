// What lies where the file has no slot: invented jigs, seen by a stand-in for the measurement that finds a coaster
// wherever one lies within three millimetres of where it is looked for.
#include "jigtrue/measurement/look_around.hpp"

#include "support/sample_result.hpp"

#include <algorithm>
#include <numeric>
#include <string>
#include <vector>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

// Coasters in a grid of three columns; what lies there may be somewhere else.
struct Grid {
  Fixture fixture;
  std::vector<Vector2d> lying;
  std::vector<SlotTask> tasks;
  PhotoFindings result;

  Grid(int rows, const Vector2d& off_mm) {
    for (int row = 0; row < rows; ++row)
      for (int column = 0; column < 3; ++column) {
        Slot slot;
        slot.id = std::to_string(3 * row + column + 1);
        slot.centre_mm = Vector2d(126.0 + 74.0 * column, 128.0 + 48.0 * row);
        slot.blank.shape = DiscBlank{30.0, 3.0};
        lying.push_back(slot.centre_mm);
        slot.centre_mm += off_mm;
        fixture.slots.push_back(slot);
        SlotTask task;
        task.slot = slot;
        task.expected = nominal_place(slot);
        tasks.push_back(task);
      }
  }
  [[nodiscard]] SlotResult measured(const SlotTask& task) const {
    const auto near = std::find_if(lying.begin(), lying.end(),
                                   [&](const Vector2d& at) { return (at - task.slot.centre_mm).norm() < 3.0; });
    if (near != lying.end()) {
      const Vector2d off_mm = *near - task.slot.centre_mm;
      return test::measured_slot({}, task.slot.id, task.slot.centre_mm, off_mm, 0.0);
    }
    SlotResult none = test::blank_slot({}, task.slot.id, task.slot.centre_mm);
    none.state = SlotState::empty;
    return none;
  }
  bool look() {
    for (const SlotTask& task : tasks) result.slots.push_back(measured(task));
    const SlotSight sight{tasks, [](const SlotTask&, const SearchRange&) { return CoarseFinding{}; },
                          [&](const SlotTask& task) { return measured(task); }};
    return look_around(sight, fixture, result);
  }
  [[nodiscard]] bool any_found() const {
    return std::any_of(result.slots.begin(), result.slots.end(),
                       [](const SlotResult& slot) { return slot.state == SlotState::found; });
  }
  [[nodiscard]] std::string notes() const {
    return std::accumulate(result.notes.begin(), result.notes.end(), std::string());
  }
};

TEST(LookAround, LeavesAGridInItsPlaceAlone) {
  Grid grid(4, {0.3, -0.4});
  EXPECT_FALSE(grid.look());
  EXPECT_TRUE(grid.result.notes.empty()) << grid.notes();
}

TEST(LookAround, AGridAWholeRowOrColumnOffIsNotReadByItsNeighbours) {
  for (const Vector2d& off_mm :
       {Vector2d(0.0, 48.0), Vector2d(0.0, -48.0), Vector2d(74.0, 0.0), Vector2d(-74.0, 0.0)}) {
    Grid grid(4, off_mm);
    EXPECT_TRUE(grid.look());
    EXPECT_FALSE(grid.any_found()) << off_mm.transpose();
    EXPECT_NE(grid.notes().find("one groove from their slots"), std::string::npos) << grid.notes();
  }
}

// To measure takes ten times as long as to search: two slots of three that show nothing settle it. Three slots are
// looked in, three candidates each.
TEST(LookAround, GivesUpAWayOffOnceTooFewSlotsCanShowIt) {
  Grid grid(4, {0.0, 0.0});
  grid.lying.clear();
  for (const SlotTask& task : grid.tasks) grid.result.slots.push_back(grid.measured(task));
  int measured = 0;
  const auto search = [](const SlotTask& task, const SearchRange&) {
    CoarseFinding finding;
    finding.in_picture = true;
    for (const double off_mm : {8.0, 12.0, 16.0}) {
      Candidate candidate;
      candidate.place = task.expected;
      candidate.place.centre_mm.x() += off_mm;
      candidate.left = candidate.right = candidate.start = candidate.end = 0.5;
      finding.candidates.push_back(candidate);
    }
    return finding;
  };
  const SlotSight sight{grid.tasks, search, [&](const SlotTask& task) {
                          ++measured;
                          return grid.measured(task);
                        }};
  EXPECT_FALSE(look_around(sight, grid.fixture, grid.result));
  EXPECT_EQ(measured, 3 * 2);
}

TEST(LookAround, OneMoreCoasterBesideAFullGridIsSaid) {
  Grid grid(3, {0.0, 0.0});
  grid.lying.emplace_back(126.0, 128.0 + 3 * 48.0);
  EXPECT_FALSE(grid.look());
  EXPECT_NE(grid.notes().find("One more blank: beyond slot 7"), std::string::npos) << grid.notes();
}

}  // namespace
}  // namespace jigtrue
