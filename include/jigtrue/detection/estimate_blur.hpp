// How blurred a photo is, told from the edges of one blank.
#pragma once
#include "jigtrue/detection/view.hpp"

namespace jigtrue {

// The blur at the outline laid at `place`: the values that leave the least misfit. `view.blur` is not looked at.
[[nodiscard]] PictureBlur estimate_blur(const View& view, const BlankPlace& place);

}  // namespace jigtrue
