// What is said of a slot's mark: burned or not, as it should be or not.
#pragma once
#include <vector>

#include "inspection/mark_task.hpp"

namespace jigtrue {

// Scores of windows without a mark: all blanks' together, each in its own texture's unit.
[[nodiscard]] std::vector<double> all_null_scores(const std::vector<MarkTask>& tasks);

// State, reasons and remedy.
void judge_mark(const MarkTask& task, const LaidLoad& laid, const std::vector<double>& nulls, InspectedSlot& out);

}  // namespace jigtrue
