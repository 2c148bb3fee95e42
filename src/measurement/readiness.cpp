#include "jigtrue/measurement/readiness.hpp"

#include <algorithm>
#include <cstdio>
#include <utility>

namespace jigtrue {
namespace {

// Reports hold four decimals: a number read back must be judged as it was when written.
constexpr double kAsWritten = 0.5e-4;

struct Figure {
  const char* name;
  const char* unit;
  std::optional<double> half_width;
  double needed;
  double BudgetShare::*share;
};

std::string with_unit(double value, const char* unit) {
  char text[64];
  std::snprintf(text, sizeof text, "%.2f %s", value, unit);
  return text;
}

std::string helps_against(const std::string& cause) {
  static const std::pair<const char*, const char*> remedies[] = {
      {cause::kEndUnseen, "leave both its ends in the open, or set a darker or lighter ground under them"},
      {cause::kOneEdgeOrAnother,
       "set it against another background (a darker or lighter jig), or take a second photo "
       "with the light elsewhere"},
      {cause::kSidesAgainstSize, "measure the blank with callipers, and light it from both sides"},
      {cause::kShade, "light it more evenly, from both sides"},
      {cause::kSeatHeight, "measure the seat's height closely and give height_tolerance_mm"},
      {cause::kLens, "calibrate the lens with more photos"},
      {cause::kLensModel, "calibrate the lens with more photos"},
      {cause::kPose, "take the pose from more marks or another board photo"},
      {cause::kLengthOrHeight, "measure a blank's length and the seat's height, and correct the file"},
      {"length of this load", "leave both its ends in the open"},
      {cause::kHeightOrDistances, "measure the seat's height and the slots' distances, and correct the file"},
      {cause::kEdgesAndLimbs, "light it more evenly or set it against another background, both ends in the open"},
  };
  for (const auto& [name, remedy] : remedies)
    if (cause == name) return remedy;
  return "take a second photo, with better light";
}

std::string largest_cause(const std::vector<BudgetShare>& budget, double BudgetShare::*share) {
  const auto largest = std::max_element(
      budget.begin(), budget.end(), [&](const BudgetShare& a, const BudgetShare& b) { return a.*share < b.*share; });
  return largest == budget.end() ? std::string() : largest->name;
}

void add_imprecisions(const SlotNumbers& numbers, const Need& need, std::vector<Obstacle>& list) {
  const ExpandedUncertainty& u = numbers.uncertainty;
  const Figure figures[] = {
      {"its place across", "mm", u.across_mm, need.across_mm, &BudgetShare::across_mm},
      {"its place along", "mm", numbers.along_mm ? u.along_mm : std::nullopt, need.along_mm, &BudgetShare::along_mm},
      {"its turn", "deg", u.rotation_deg, need.turn_deg, &BudgetShare::rotation_deg}};
  for (const Figure& figure : figures) {
    if (figure.half_width && *figure.half_width <= figure.needed + kAsWritten) continue;
    const std::string known = figure.half_width ? " is known only to +/- " + with_unit(*figure.half_width, figure.unit)
                                                : std::string(" was not measured");
    const std::string cause =
        figure.half_width ? largest_cause(numbers.budget, figure.share) : std::string(cause::kEndUnseen);
    list.push_back({Obstacle::Kind::precision,
                    figure.name + known + ", needed is +/- " + with_unit(figure.needed, figure.unit),
                    helps_against(cause)});
  }
}

}  // namespace

std::vector<Obstacle> obstacles(const SlotResult& slot) {
  std::vector<Obstacle> list;
  if (slot.state != SlotState::found) return list;
  if (!slot.design_fits.value_or(true))
    list.push_back(
        {Obstacle::Kind::design, slot.design_note.empty() ? "the design does not fit" : slot.design_note, {}});
  if (slot.numbers) add_imprecisions(*slot.numbers, slot.need, list);
  return list;
}

bool is_ready(const SlotResult& slot) {
  return slot.state == SlotState::found && slot.numbers && obstacles(slot).empty();
}

}  // namespace jigtrue
