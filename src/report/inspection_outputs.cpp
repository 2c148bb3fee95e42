#include "jigtrue/report/inspection_outputs.hpp"

#include "jigtrue/image/write_picture.hpp"
#include "jigtrue/layout/layout_dxf.hpp"
#include "jigtrue/layout/layout_svg.hpp"
#include "jigtrue/report/inspection_json.hpp"
#include "jigtrue/report/inspection_pages.hpp"

#include <utility>

namespace jigtrue {

std::vector<FileContent> inspection_outputs(const InspectionStory& story, Photo photo, const ReportOptions& options) {
  const std::string annotated = encode_jpeg(inspection_picture(story.result, photo));
  photo = Photo{};
  return {{"inspection.json", inspection_json(story.result, options)},
          {"inspection.html", inspection_html(story.result, story.loads, annotated, options)},
          {"annotated.jpg", annotated},
          {"again.svg", layout_svg(story.again, story.result.blanks.fixture_name + ": another pass", options.machine)},
          {"again.dxf", layout_dxf(story.again)}};
}

}  // namespace jigtrue
