// How the marks of a load look beside each other and beside earlier loads': which pieces want another pass.
#pragma once
#include "jigtrue/inspection/inspection_result.hpp"

#include <vector>

namespace jigtrue {

// Of marks of earlier loads of the same fixture.
struct EarlierLooks {
  std::vector<double> contrasts;
  int loads = 0;
};

// Adds reasons and remedies to marked slots that are paler than the rest, patchy, or scorched beside their ink, and
// says of every slot whether another pass would mend it (InspectedSlot::wants_another_pass): pale and patchy marks, and
// bare blanks of a load whose other blanks are marked. Notes a load that is paler as a whole than earlier ones.
void judge_looks(const EarlierLooks& earlier, InspectionResult& result);

}  // namespace jigtrue
