#include "jigtrue/report/inspection_outputs.hpp"

#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/report/inspection_json.hpp"
#include "jigtrue/report/inspection_pages.hpp"

#include <utility>

namespace jigtrue {

std::vector<FileContent> inspection_outputs(const InspectionResult& result, Photo photo, const ReportOptions& options) {
  const ShrunkPicture picture = shrink(photo, kInspectionSide_px);
  photo = Photo{};
  const std::string annotated = encode_jpeg(inspection_picture(result, picture));
  return {{"inspection.json", inspection_json(result, options)},
          {"inspection.html", inspection_html(result, annotated, options)},
          {"annotated.jpg", annotated}};
}

}  // namespace jigtrue
