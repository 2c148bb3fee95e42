// The fields of a lens file, also where they stand inside camera.json. Internal.
#pragma once
#include "jigtrue/calibration/lens_file.hpp"

#include "calibration/json_write.hpp"

namespace jigtrue {

// Throws unless the node says that it is a lens.
JsonField check_lens_schema(const JsonField& root);
// {"squares": [columns, rows], "square_mm": size}
[[nodiscard]] BoardSpec read_board_field(const JsonField& field);
// [column, row]
[[nodiscard]] GridPlace read_grid_place(const JsonField& field);
[[nodiscard]] LensRecord read_lens_fields(const JsonField& root);

}  // namespace jigtrue
