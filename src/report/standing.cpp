#include "jigtrue/report/standing.hpp"

#include "jigtrue/layout/placement.hpp"
#include "jigtrue/measurement/readiness.hpp"

#include <algorithm>

namespace jigtrue {

namespace {

Standing standing_of_found(const SlotResult& slot) {
  const std::vector<Obstacle> in_the_way = obstacles(slot);
  if (in_the_way.empty()) return is_ready(slot) ? Standing::ready : Standing::doubtful;
  return in_the_way.front().kind == Obstacle::Kind::design ? Standing::misfit : Standing::imprecise;
}

}  // namespace

Standing standing(const SlotResult& slot) {
  switch (slot.state) {
    case SlotState::found:
      return standing_of_found(slot);
    case SlotState::empty:
      return Standing::empty;
    case SlotState::mismatch:
      return Standing::mismatch;
    case SlotState::doubtful:
      return Standing::doubtful;
  }
  return Standing::doubtful;
}

int ready_count(const CheckResult& result) {
  return static_cast<int>(std::count_if(result.slots.begin(), result.slots.end(),
                                        [](const SlotResult& slot) { return standing(slot) == Standing::ready; }));
}

std::vector<std::string> all_reasons(const SlotResult& slot) {
  std::vector<std::string> reasons = slot.reasons;
  for (const Obstacle& obstacle : obstacles(slot)) reasons.push_back(obstacle.text());
  return reasons;
}

std::string joined(const std::vector<std::string>& parts, const std::string& separator) {
  std::string out;
  for (const std::string& part : parts) {
    if (part.empty()) continue;
    if (!out.empty()) out += separator;
    out += part;
  }
  return out;
}

Attention attention(const SlotResult& slot) {
  const std::string reasons = joined(slot.reasons, ", ");
  const std::string because = reasons.empty() ? "" : " (" + reasons + ")";
  const auto remedy_or = [&](const std::string& usual) { return slot.remedy.empty() ? usual : slot.remedy; };
  switch (standing(slot)) {
    case Standing::empty:
      return {slot.id, "empty", "load a blank or leave it out"};
    case Standing::mismatch:
      return {slot.id, "mismatch" + because,
              remedy_or("load the blank that the fixture file asks for, or correct the file")};
    case Standing::misfit:
      return {slot.id, "the design does not fit",
              slot.design_note.empty() ? "make the design smaller or move it" : slot.design_note};
    case Standing::imprecise: {
      const Obstacle obstacle = obstacles(slot).front();
      return {slot.id, obstacle.what, obstacle.remedy + ", and take a new photo"};
    }
    case Standing::doubtful:
    case Standing::ready:
      break;
  }
  return {slot.id, "doubtful" + because, remedy_or("look at it, clear or reseat it") + ", and take a new photo"};
}

std::vector<Attention> needing_person(const CheckResult& result) {
  std::vector<Attention> out;
  for (const SlotResult& slot : result.slots) {
    if (standing(slot) != Standing::ready) out.push_back(attention(slot));
  }
  return out;
}

std::string headline(const CheckResult& result, std::size_t max_names) {
  const std::size_t total = result.slots.size();
  const std::string slots = total == 1 ? " slot" : " slots";
  const std::vector<Attention> waiting = needing_person(result);
  if (waiting.empty())
    return (total == 1 ? "The slot is" : "All " + std::to_string(total) + slots + " are") + std::string(" ready.");
  std::vector<std::string> names;
  for (std::size_t i = 0; i < waiting.size() && i < max_names; ++i) names.push_back(waiting[i].slot_id);
  std::string list = joined(names, ", ");
  if (names.size() < waiting.size()) list += " and " + std::to_string(waiting.size() - names.size()) + " more";
  return std::to_string(total - waiting.size()) + " of " + std::to_string(total) + slots + " ready. " +
         (waiting.size() == 1 ? "This one needs you: " : "These need you: ") + list + ".";
}

std::vector<std::string> cautions(const CheckResult& result, const std::optional<Machine>& machine) {
  std::vector<std::string> out;
  if (!result.witness && !result.self_located)
    out.emplace_back(
        "The camera file keeps no witness marks: had the camera moved since, it would not be noticed, and every place "
        "would be wrong. Stick marks to the bed and run jigtrue pose with --witness.");
  if (std::string page = page_caution(result, machine); !page.empty()) out.push_back(std::move(page));
  return out;
}

}  // namespace jigtrue
