// The files of an inspection, as one set: all of them appear or none.
#pragma once
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/inspection/inspection_result.hpp"
#include "jigtrue/report/report_options.hpp"

#include <vector>

namespace jigtrue {

// inspection.json, inspection.html, annotated.jpg; names only, in no folder.
[[nodiscard]] std::vector<FileContent> inspection_outputs(const InspectionResult& result, Photo photo,
                                                          const ReportOptions& options);

}  // namespace jigtrue
