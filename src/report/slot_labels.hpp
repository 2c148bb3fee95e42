// The labels of the annotated picture: each slot's name and move, a line from it to what it names.
#pragma once
#include <vector>

#include "report/drawn_slot.hpp"

namespace jigtrue {

enum class LabelText { name_and_move, name_alone };
void draw_labels(cv::Mat3b& picture, const std::vector<DrawnSlot>& slots, LabelText text, const PictureSizes& sizes);

}  // namespace jigtrue
