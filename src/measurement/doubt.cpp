#include "measurement/doubt.hpp"

#include "jigtrue/base/text.hpp"

namespace jigtrue {

void doubt(SlotResult& slot, const std::string& reason, const std::string& remedy) {
  slot.state = SlotState::doubtful;
  slot.reasons.assign(1, reason);
  slot.remedy = remedy;
  slot.numbers.reset();
  slot.length.reset();
}

std::string millimetres_text(double mm, int decimals) { return fixed_text(mm, decimals) + " mm"; }

}  // namespace jigtrue
