#include "jigtrue/layout/job_file.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/json/json_file.hpp"

#include <cmath>
#include <set>

namespace jigtrue {
namespace {

constexpr JsonForm kJobForm{"a job", "jigtrue.job/1", "", 1u << 20, 10'000};
constexpr std::size_t kMostPasses = 20;
constexpr std::size_t kMostBytes = 1000;
constexpr double kSamePage_mm = 0.01;

double number_of(const JsonField& fields, const char* name, double low, double high, std::optional<double> otherwise) {
  const std::string remedy = std::string("give ") + name + " as the machine is set";
  const std::optional<JsonField> found = fields.find(name);
  if (!found && otherwise) return *otherwise;
  return found ? found->number({low, high, ""}) : fields.at(name, remedy).number();
}

std::string text_of(const JsonField& fields, const char* name) {
  const std::optional<JsonField> found = fields.find(name);
  return found ? found->line(kMostBytes) : std::string();
}

std::optional<PassTiming> timing_of(const JsonField& fields) {
  const std::string burn = text_of(fields, "burn");
  if (burn.empty()) {
    for (const char* name : {"speed_mm_s", "lines_per_cm", "overscan_mm"})
      if (fields.has(name)) throw fields[name].error("is given without burn", "add \"burn\": \"scan\" or \"trace\"");
    return std::nullopt;
  }
  if (burn != "scan" && burn != "trace")
    fields["burn"].fail("must be \"scan\" or \"trace\"", "fill by scanning, or trace the lines");
  PassTiming timing;
  timing.kind = burn == "scan" ? PassKind::scan : PassKind::trace;
  timing.speed_mm_s = number_of(fields, "speed_mm_s", 0.01, 20'000, std::nullopt);
  timing.times = static_cast<int>(std::lround(number_of(fields, "times", 1, 1000, 1.0)));
  if (timing.kind == PassKind::scan) {
    timing.lines_per_cm = number_of(fields, "lines_per_cm", 1, 2000, std::nullopt);
    timing.overscan_mm = number_of(fields, "overscan_mm", 0, 200, 0.0);
  }
  return timing;
}

JobPass pass_of(const JsonField& fields) {
  fields.require_fields({"name", "artwork", "burn", "speed_mm_s", "lines_per_cm", "overscan_mm", "times"}, "a pass");
  JobPass pass;
  pass.name = text_of(fields, "name");
  if (pass.name.empty()) throw fields.missing("name", "give every pass a name of its own");
  pass.artwork_file = text_of(fields, "artwork");
  if (pass.artwork_file.empty() && pass.name != "names")
    throw fields.missing("artwork", "give the drawing's file, relative to the job file");
  pass.timing = timing_of(fields);
  return pass;
}

}  // namespace

Job read_job(const std::string& json_text, const std::string& file_name) {
  const JsonFile file(json_text, file_name, kJobForm);
  const JsonField root = file.checked_root();
  root.require_fields({"schema", "name", "passes", "travel_mm_s"}, "a job");
  Job job;
  job.travel_mm_s = number_of(root, "travel_mm_s", 0.1, 20'000, job.travel_mm_s);
  const JsonField passes = root.at("passes", "list them in the order of burning");
  passes.require_list(1, kMostPasses, "list them in the order of burning");
  std::set<std::string> names;
  for (std::size_t i = 0; i < passes.size(); ++i) {
    job.passes.push_back(pass_of(passes[i]));
    if (!names.insert(job.passes.back().name).second)
      throw passes[i]["name"].error("is taken", "give every pass a name of its own");
  }
  return job;
}

std::vector<Pass> passes_in_register(const std::vector<JobPass>& passes, const std::vector<Artwork>& artworks) {
  std::vector<Pass> out;
  InkBox ink;
  for (std::size_t i = 0; i < passes.size(); ++i) {
    if ((artworks[i].page_mm - artworks[0].page_mm).cwiseAbs().maxCoeff() > kSamePage_mm)
      throw input_error(artworks[i].file,
                        "its page is " + fixed_text(artworks[i].page_mm.x(), 2) + " x " +
                            fixed_text(artworks[i].page_mm.y(), 2) + " mm, that of " + artworks[0].file + " " +
                            fixed_text(artworks[0].page_mm.x(), 2) + " x " + fixed_text(artworks[0].page_mm.y(), 2) +
                            " mm",
                        "draw all passes on pages of one size, so that they stay in register");
    ink.hold(artworks[i].ink);
    out.push_back({passes[i].name, artworks[i].shapes, passes[i].timing});
  }
  for (Pass& pass : out) pass.shapes = moved(pass.shapes, -ink.centre());
  return out;
}

}  // namespace jigtrue
