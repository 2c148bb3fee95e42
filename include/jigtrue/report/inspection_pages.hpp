// What people see of an inspection: the picture of the load, and the page.
#pragma once
#include "jigtrue/history/burn_record.hpp"
#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/inspection/inspection_result.hpp"
#include "jigtrue/report/report_options.hpp"

#include <string>
#include <vector>

namespace jigtrue {

// The photo with each blank's outline, the outline of the drawing where its mark was found, and an arrow from where the
// mark belongs to where it is, larger than life where that is small: the legend below says how much.
[[nodiscard]] cv::Mat3b inspection_picture(const InspectionResult& result, const Photo& photo);

// One self-contained UTF-8 file, as report.html is: pieces in order of trouble, each with its close-up unrolled, the
// centreline and the mark in it; camera against beam, and that over the loads (this one the last). Throws
// std::logic_error when a number is not finite.
[[nodiscard]] std::string inspection_html(const InspectionResult& result, const std::vector<BurnRecord>& loads,
                                          const std::string& annotated_jpeg, const ReportOptions& options);

}  // namespace jigtrue
