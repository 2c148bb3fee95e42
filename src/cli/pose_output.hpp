// What the pose command writes and prints.
#pragma once
#include "cli/pose_arguments.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/machine_figures.hpp"

#include <string>
#include <vector>

namespace jigtrue::cli {

// "flat.jpg and 2 further"
[[nodiscard]] std::string count_of(const std::vector<std::string>& photos);

// The page is written from the file as read back, so that it says what the file says.
void write_pose(const PoseArguments& arguments, const std::filesystem::path& page, const PoseFit& pose,
                const std::string& json, const std::string& source, const CameraFileNotes& notes,
                const Photo* photo = nullptr);
void print_pose(const LensRecord& lens, const PoseFit& pose, bool by_marks, Streams streams);
void print_machine(const Outcome<MachineReading>& reading, Streams streams);
void print_files(const PoseArguments& arguments, const std::filesystem::path& page, Streams streams);

}  // namespace jigtrue::cli
