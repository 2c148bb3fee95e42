// What a check and an inspection say, as the book keeps it.
#pragma once
#include "jigtrue/bench/book.hpp"
#include "jigtrue/inspection/inspection_result.hpp"
#include "jigtrue/layout/placement.hpp"
#include "jigtrue/measurement/slot_result.hpp"
#include "jigtrue/workbench/workbench.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

// `placed`: laid out, so burned with the load. `piece`: of the batch, that it got.
[[nodiscard]] BookSlot book_slot(const SlotResult& slot, bool placed, std::optional<std::int64_t> piece);

// What a check says of a load, without what the bench knows of it: time, photo, design, batch. `pieces`: by slot.
[[nodiscard]] BookLoad book_load(const CheckedLoad& checked, const Placement& placement,
                                 const std::map<std::string, std::int64_t>& pieces);
// The check's files and those that only the bench offers: layout.dxf, closeup.jpg, moved.jpg.
[[nodiscard]] std::vector<FileContent> book_files(const CheckedLoad& checked, const Placement& placement);

// By slot. A bare blank that lies there still gets its mark there, by another pass; else its piece goes to another
// blank, as a spoiled one's does. Of a blank that was taken out since nothing is known.
[[nodiscard]] std::map<std::string, std::string> outcomes_of(const InspectionResult& result);

// How the camera stands by the bed's marks, in words.
[[nodiscard]] std::string camera_standing(const CheckResult& result);

}  // namespace jigtrue
