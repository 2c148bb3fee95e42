// The five files of a check, as one set: all of them appear or none.
#pragma once
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/image/photo.hpp"
#include "jigtrue/measurement/slot_result.hpp"
#include "jigtrue/report/report_options.hpp"

#include <filesystem>
#include <vector>

namespace jigtrue {

// report.json, offsets.csv, layout.svg, annotated.jpg, report.html. The photo is the one that was measured, upright;
// moved in, its memory is free again before the pictures are drawn. Notes of the layout are
// added to those of the result.
[[nodiscard]] std::vector<FileContent> check_outputs(const std::filesystem::path& folder, const CheckResult& result,
                                                     Photo photo, const ReportOptions& options);

// annotated.jpg and report.html alone, of a result whose notes are whole.
[[nodiscard]] std::vector<FileContent> picture_outputs(const std::filesystem::path& folder, const CheckResult& result,
                                                       Photo photo, const ReportOptions& options);

// Makes the folder if need be and writes them. Throws InputError as prepare_folder and write_files do.
void write_check_outputs(const std::filesystem::path& folder, const CheckResult& result, Photo photo,
                         const ReportOptions& options);

}  // namespace jigtrue
