// What a DXF file must hold beside its entities and their layers.
#pragma once
#include "jigtrue/layout/placement.hpp"

#include <string>

#include "layout/dxf_writer.hpp"

namespace jigtrue {

struct DxfSpaces {
  std::string model;  // handles of the block records
  std::string paper;
};

// The seed of handles goes into the header, so that is written last and put first.
[[nodiscard]] std::string dxf_header(const Page& page, const std::string& next_handle);

void dxf_viewport(DxfWriter& out, const Page& page);
void dxf_line_types(DxfWriter& out);
void dxf_other_tables(DxfWriter& out);
[[nodiscard]] DxfSpaces dxf_block_records(DxfWriter& out);
void dxf_blocks(DxfWriter& out, const DxfSpaces& spaces);
void dxf_dictionaries(DxfWriter& out);

}  // namespace jigtrue
