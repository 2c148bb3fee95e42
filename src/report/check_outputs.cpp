#include "jigtrue/report/check_outputs.hpp"

#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/layout/apply_machine.hpp"
#include "jigtrue/layout/layout_svg.hpp"
#include "jigtrue/report/annotated_picture.hpp"
#include "jigtrue/report/offsets_csv.hpp"
#include "jigtrue/report/report_html.hpp"
#include "jigtrue/report/report_json.hpp"
#include "jigtrue/report/standing.hpp"

#include <utility>

namespace jigtrue {

namespace {

CheckResult with_notes(const CheckResult& result) {
  CheckResult whole = result;
  if (std::string note = machine_note(result); !note.empty()) whole.notes.insert(whole.notes.begin(), std::move(note));
  return whole;
}

}  // namespace

std::vector<FileContent> picture_outputs(const std::filesystem::path& folder, const CheckResult& result, Photo photo,
                                         const ReportOptions& options) {
  ShrunkPicture picture = shrink(photo, kAnnotatedSide_px);
  photo = Photo{};
  const std::string plain_jpeg = encode_jpeg(picture.bgr);
  const std::string annotated_jpeg =
      encode_jpeg(annotated_picture(result, std::move(picture), cautions(result, options.machine)));
  return {{folder / "annotated.jpg", annotated_jpeg},
          {folder / "report.html", report_html(result, plain_jpeg, options)}};
}

std::vector<FileContent> check_outputs(const std::filesystem::path& folder, const CheckResult& result, Photo photo,
                                       const ReportOptions& options) {
  const CheckResult whole = with_notes(result);
  std::vector<FileContent> files = {{folder / "report.json", report_json(whole, options)},
                                    {folder / "offsets.csv", offsets_csv(whole)},
                                    {folder / "layout.svg", layout_svg(whole, options.machine, options.art)}};
  for (FileContent& file : picture_outputs(folder, whole, std::move(photo), options)) files.push_back(std::move(file));
  return files;
}

void write_check_outputs(const std::filesystem::path& folder, const CheckResult& result, Photo photo,
                         const ReportOptions& options) {
  const std::vector<FileContent> files = check_outputs(folder, result, std::move(photo), options);
  prepare_folder(folder);
  write_files(files);
}

}  // namespace jigtrue
