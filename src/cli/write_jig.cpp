#include "cli/write_jig.hpp"

#include "cli/guard_inputs.hpp"
#include "cli/machine_option.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/base/text.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/fixture/like_file.hpp"
#include "jigtrue/target/jig_plan.hpp"

#include <filesystem>
#include <vector>

namespace jigtrue::cli {
namespace {

void check_sizes(const JigArguments& arguments) {
  const auto check = [](const char* option, double value, double low, double high) {
    if (value >= low && value <= high) return;
    throw input_error(option, "must lie between " + fixed_text(low, low == 0.0 ? 0 : 1) + " and " + fixed_text(high, 0),
                      "give it in mm");
  };
  const auto count = [](const char* option, const std::optional<int>& value) {
    if (value && (*value < 1 || *value > 100)) throw input_error(option, "must be 1 to 100");
  };
  count("--rows", arguments.rows);
  count("--columns", arguments.columns);
  if (arguments.pitch_mm) check("--pitch", *arguments.pitch_mm, 0.5, 2000.0);
  if (arguments.column_pitch_mm) check("--column-pitch", *arguments.column_pitch_mm, 0.5, 2000.0);
  check("--play", arguments.play_mm, 0.0, 5.0);
  check("--kerf", arguments.kerf_mm, 0.0, 1.0);
}

Machine bed_of(const std::optional<Machine>& bed, const Fixture& fixture, const std::string& file) {
  if (bed) return *bed;
  if (const auto machine = machine_of(machine_file("", fixture, file))) return *machine;
  throw input_error("--bed", "the bed's size is needed for a jig that the machine is to make",
                    "give --bed 400x300 or --machine FILE, or \"machine\" in the fixture file");
}

std::vector<SlotLine> lines_of(const std::vector<Slot>& slots) {
  std::vector<SlotLine> lines;
  lines.reserve(slots.size());
  for (const Slot& slot : slots) lines.push_back({slot.id, slot.centre_mm, slot.axis_deg, ""});
  return lines;
}

}  // namespace

int write_jig(const JigArguments& arguments, const std::optional<Machine>& bed, const std::string& machine_named,
              const std::string& output, Streams streams) {
  check_sizes(arguments);
  const std::string text = read_text_file(arguments.fixture);
  std::string completed = text;
  const bool to_lay = arguments.rows || arguments.columns || arguments.pitch_mm || arguments.column_pitch_mm;
  if (!has_slots(text, arguments.fixture)) {
    if (!to_lay)
      throw input_error(arguments.fixture, "it has no slots, and how many there are to be is not said",
                        "give for example --rows 5 --pitch 24");
    const LikeFile like = read_like(text, arguments.fixture);
    const SlotRows rows{arguments.rows.value_or(1), arguments.columns.value_or(1), arguments.pitch_mm,
                        arguments.column_pitch_mm};
    completed =
        with_slots(text, lines_of(slots_in_rows(like.kind, rows, bed_of(bed, like.fixture, arguments.fixture))));
  } else if (to_lay) {
    throw input_error(arguments.fixture,
                      "it has slots already, so --rows, --columns and their pitches would lay others",
                      "leave these options out, or take the slots out of the file");
  }
  const Fixture fixture = read_fixture(completed, arguments.fixture);
  const JigPlan plan =
      jig_plan(fixture, bed_of(bed, fixture, arguments.fixture), {arguments.play_mm, arguments.kerf_mm});
  if (!plan.own_marks) completed = with_marks(completed, plan.marks_mm);
  std::vector<FileContent> files = {{output, jig_svg(plan)}};
  if (completed != text) {
    const std::filesystem::path json = std::filesystem::path(output).replace_extension(".json");
    (void)read_fixture(completed, json.string());  // what is written must be what a check reads
    files.push_back({json, completed});
  }
  Paths outputs;
  outputs.reserve(files.size());
  for (const FileContent& file : files) outputs.push_back(file.path);
  refuse_over_inputs({arguments.fixture, machine_named}, outputs);
  refuse_over_inputs(paths_named_by(fixture, arguments.fixture), outputs);
  write_files(files);
  const Vector2d size = plan.high_mm - plan.low_mm;
  streams.out << "a sheet of " << fixed_text(size.x(), 1) << " x " << fixed_text(size.y(), 1) << " mm with "
              << plan.openings.size() << " slots and " << plan.marks_mm.size() << " marks\n";
  for (const std::string& note : plan.notes) streams.out << "note: " << note << "\n";
  if (plan.own_marks && plan.marks_mm.size() < 4)
    streams.out << "note: with four marks or more a photo would need no camera.json\n";
  if (files.size() > 1) streams.out << strayed_files(arguments.fixture, files.back().path.string(), fixture);
  for (const FileContent& file : files) streams.out << "wrote " << file.path.string() << "\n";
  streams.out
      << "next: burn what is black, cut what is blue, then the vermilion outline; lay the jig where it was cut\n";
  return 0;
}

}  // namespace jigtrue::cli
