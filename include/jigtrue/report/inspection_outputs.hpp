// The files of an inspection, as one set: all of them appear or none.
#pragma once
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/history/burn_record.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/inspection/inspection_result.hpp"
#include "jigtrue/layout/placement.hpp"
#include "jigtrue/report/report_options.hpp"

#include <vector>

namespace jigtrue {

// What the files say.
struct InspectionStory {
  const InspectionResult& result;
  Placement again;                // inspection/another_pass.hpp
  std::vector<BurnRecord> loads;  // of this fixture, in their order, this one the last
};

// inspection.json, inspection.html, annotated.jpg, again.svg, again.dxf; names only, in no folder. The layout is
// written even when it is empty: an older one must not lie there in its stead.
[[nodiscard]] std::vector<FileContent> inspection_outputs(const InspectionStory& story, Photo photo,
                                                          const ReportOptions& options);

}  // namespace jigtrue
