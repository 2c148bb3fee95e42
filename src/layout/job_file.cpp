#include "jigtrue/layout/job_file.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/layout/text.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <nlohmann/json.hpp>

namespace jigtrue {
namespace {

using nlohmann::json;

constexpr std::size_t kMostPasses = 20;
constexpr double kSamePage_mm = 0.01;

class Fields {
 public:
  Fields(const json& object, std::string where, const std::set<std::string>& known)
      : object_(object), where_(std::move(where)) {
    if (!object.is_object()) throw input_error(where_, "is not an object", "write it like the example in the manual");
    for (const auto& item : object.items()) {
      const std::string& key = item.key();
      if (known.count(key) == 0 && key != "comment" && key != "note" && !key.starts_with('_') && !key.starts_with("x_"))
        throw input_error(where_, "unknown field " + ascii_text(key), "take it out or mend its spelling");
    }
  }

  [[nodiscard]] bool has(const char* name) const { return object_.contains(name); }
  [[nodiscard]] const json& get(const char* name) const { return object_.at(name); }

  [[nodiscard]] std::string text(const char* name) const {
    if (!has(name)) return {};
    if (!get(name).is_string() || get(name).get_ref<const std::string&>().size() > 1000)
      throw input_error(where_, std::string(name) + " is not a short text", "put it in double quotes");
    return get(name).get<std::string>();
  }

  [[nodiscard]] double number(const char* name, double low, double high, std::optional<double> otherwise) const {
    if (!has(name) && otherwise) return *otherwise;
    const double value = has(name) && get(name).is_number() ? get(name).get<double>() : std::nan("");
    if (!(value >= low && value <= high))
      throw input_error(where_,
                        std::string(name) + (has(name) ? " is not a number" : " is missing, a number") + " from " +
                            fixed_text(low, 0) + " to " + fixed_text(high, 0),
                        std::string("give ") + name + " as the machine is set");
    return value;
  }

  [[nodiscard]] const std::string& where() const { return where_; }

 private:
  const json& object_;
  std::string where_;
};

std::optional<PassTiming> timing_of(const Fields& fields) {
  const std::string burn = fields.text("burn");
  if (burn.empty()) {
    for (const char* name : {"speed_mm_s", "lines_per_cm", "overscan_mm"})
      if (fields.has(name))
        throw input_error(fields.where(), std::string(name) + " is given without burn",
                          "add \"burn\": \"scan\" or \"trace\"");
    return std::nullopt;
  }
  if (burn != "scan" && burn != "trace")
    throw input_error(fields.where(), "burn is \"" + ascii_text(burn) + "\"", "use \"scan\" or \"trace\"");
  PassTiming timing;
  timing.kind = burn == "scan" ? PassKind::scan : PassKind::trace;
  timing.speed_mm_s = fields.number("speed_mm_s", 0.01, 20'000, std::nullopt);
  timing.times = static_cast<int>(std::lround(fields.number("times", 1, 1000, 1.0)));
  if (timing.kind == PassKind::scan) {
    timing.lines_per_cm = fields.number("lines_per_cm", 1, 2000, std::nullopt);
    timing.overscan_mm = fields.number("overscan_mm", 0, 200, 0.0);
  }
  return timing;
}

JobPass pass_of(const json& value, const std::string& where) {
  const Fields fields(value, where, {"name", "artwork", "burn", "speed_mm_s", "lines_per_cm", "overscan_mm", "times"});
  JobPass pass;
  pass.name = fields.text("name");
  if (pass.name.empty()) throw input_error(where, "has no name", "give every pass a name of its own");
  pass.artwork_file = fields.text("artwork");
  if (pass.artwork_file.empty() && pass.name != "names")
    throw input_error(where, "has no artwork", "give the drawing's file, relative to the job file");
  pass.timing = timing_of(fields);
  return pass;
}

}  // namespace

Job read_job(const std::string& json_text, const std::string& file_name) {
  json document;
  try {
    document = json::parse(json_text, nullptr, true, true);
  } catch (const json::exception&) {
    throw input_error(file_name, "is not valid JSON", "look for a missing comma, quote or bracket");
  }
  const Fields fields(document, file_name, {"schema", "name", "passes", "travel_mm_s"});
  if (fields.text("schema") != "jigtrue.job/1")
    throw input_error(file_name, "schema is not \"jigtrue.job/1\"", "write \"schema\": \"jigtrue.job/1\"");
  Job job;
  job.travel_mm_s = fields.number("travel_mm_s", 0.1, 20'000, job.travel_mm_s);
  if (!fields.has("passes") || !fields.get("passes").is_array() || fields.get("passes").empty() ||
      fields.get("passes").size() > kMostPasses)
    throw input_error(file_name, "passes is not a list of 1 to 20 passes", "list them in the order of burning");
  std::set<std::string> names;
  for (const json& each : fields.get("passes")) {
    const std::string where = file_name + ": passes[" + std::to_string(job.passes.size()) + "]";
    job.passes.push_back(pass_of(each, where));
    if (!names.insert(job.passes.back().name).second)
      throw input_error(where, "its name is taken", "give every pass a name of its own");
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
