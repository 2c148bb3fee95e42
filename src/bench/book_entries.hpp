// What a check and an inspection say, as the book keeps it.
#pragma once
#include "jigtrue/bench/book.hpp"
#include "jigtrue/inspection/inspection_result.hpp"
#include "jigtrue/measurement/slot_result.hpp"

#include <cstdint>
#include <map>
#include <optional>
#include <string>

namespace jigtrue {

// `placed`: laid out, so burned with the load. `piece`: of the batch, that it got.
[[nodiscard]] BookSlot book_slot(const SlotResult& slot, bool placed, std::optional<std::int64_t> piece);

// By slot. A bare blank that lies there still gets its mark there, by another pass; else its piece goes to another
// blank, as a spoiled one's does. Of a blank that was taken out since nothing is known.
[[nodiscard]] std::map<std::string, std::string> outcomes_of(const InspectionResult& result);

// How the camera stands by the bed's marks, in words.
[[nodiscard]] std::string camera_standing(const CheckResult& result);

}  // namespace jigtrue
