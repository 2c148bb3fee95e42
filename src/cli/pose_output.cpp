#include "cli/pose_output.hpp"

#include "jigtrue/base/write_file.hpp"
#include "jigtrue/calibration/held_out_on_bed.hpp"
#include "jigtrue/report/calibration_page.hpp"

#include <cstdio>

namespace jigtrue::cli {
namespace {

std::string percent(const char* name, const Figure& figure) {
  char text[120];
  std::snprintf(text, sizeof text, "  %-26s %+.3f %% +/- %.3f %%\n", name, 100.0 * figure.value, 100.0 * figure.u95);
  return text;
}

std::string held_out_line(const std::vector<HeldOutOnBed>& models) {
  if (models.empty()) return {};
  char text[160];
  std::snprintf(text, sizeof text,
                "on photos that the lens has not seen corners lie %.3f px from where it puts them, %.3f mm on this bed "
                "(%s, in use",
                models.front().px, models.front().mm, to_string(models.front().model));
  std::string line = text;
  for (std::size_t i = 1; i < models.size(); ++i) {
    std::snprintf(text, sizeof text, "; %s %.3f mm", to_string(models[i].model), models[i].mm);
    line += text;
  }
  return line + ")\n";
}

}  // namespace

std::string count_of(const std::vector<std::string>& photos) {
  return photos.size() == 1 ? photos.front()
                            : photos.front() + " and " + std::to_string(photos.size() - 1) + " further";
}

void write_pose(const PoseArguments& arguments, const std::filesystem::path& page, const PoseFit& pose,
                const std::string& json, const std::string& source, const CameraFileNotes& notes, const Photo* photo) {
  const CameraRecord record = read_camera_json(json, arguments.output);
  const PosePageInputs inputs{arguments.page_height_mm, photo, notes.board, notes.placement, notes.mark_place_sigma_mm};
  write_files({{arguments.output, json}, {page, pose_page(pose, record, inputs, {source, notes.created, version()})}});
}

void print_pose(const LensRecord& lens, const PoseFit& pose, bool by_marks, Streams streams) {
  const Vector3d centre = pose.camera.centre_mm();
  char line[256];
  std::snprintf(line, sizeof line, "%s to %.3f px (rms); the camera stands %.0f mm above the bed over (%.0f, %.0f)\n",
                !by_marks              ? "board fits"
                : pose.further.empty() ? "marks fit"
                                       : "marks and boards fit",
                pose.rms_px, centre.z(), centre.x(), centre.y());
  streams.out << line << stand_line(pose.camera) << held_out_line(held_out_on_bed(lens, pose));
  for (const std::string& note : pose.notes) streams.out << "note: " << note << "\n";
}

void print_machine(const Outcome<MachineReading>& reading, Streams streams) {
  if (!reading) {
    streams.out << "nothing is said about the machine: " << reading.reason() << "\n";
    return;
  }
  const MachineFigures* figures = &reading->figures;
  streams.out << "what the marks say about the machine (+/- holds the truth 95 times in 100):\n";
  if (figures->scale_x) streams.out << percent("scale along X", *figures->scale_x);
  if (figures->scale_y) streams.out << percent("scale along Y", *figures->scale_y);
  streams.out << percent("scale along X less Y", figures->scale_x_less_y);
  char text[160];
  std::snprintf(text, sizeof text, "  %-26s %+.3f deg +/- %.3f deg\n  %-26s %.3f mm over %d marks\n",
                "angle from X to Y less 90", figures->squareness_deg.value, figures->squareness_deg.u95, "rest (rms)",
                figures->rest_mm, figures->marks);
  streams.out << text;
  if (!figures->scale_x)
    streams.out
        << "  the scale of both axes together cannot be told from the camera's height in one photo: --compare a "
           "board's camera file\n";
}

void print_files(const PoseArguments& arguments, const std::filesystem::path& page, Streams streams) {
  streams.out << "wrote " << arguments.output << "\npage: " << page.string() << "\n";
}

}  // namespace jigtrue::cli
