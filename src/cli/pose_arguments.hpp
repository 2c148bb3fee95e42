// What the pose command was asked, and its ways to a camera file.
#pragma once
#include "cli/commands.hpp"
#include "cli/pose_questions.hpp"
#include "jigtrue/calibration/lens_file.hpp"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace jigtrue::cli {

struct PoseArguments {
  std::vector<std::string> photos;  // the board's or the marks' place is that in the first one
  std::string lens;
  std::string board;
  std::string board_at;
  std::optional<double> board_height_mm;
  double laid_within_mm = 0.0;
  double print_within_percent = 0.0;
  bool unusual = false;
  bool another_board = false;
  std::string marks;
  std::string compare;
  std::string photo_top;
  std::string origin_px;
  std::vector<std::string> witness;
  std::string refit;
  double page_height_mm = 14.0;
  std::string output;
};

// `by`: what the photo was turned by against what the user sees of it.
[[nodiscard]] PoseAnswers answers_of(const PoseArguments& arguments, PhotoTurn by = PhotoTurn::none);

void refuse_odd_height(const PoseArguments& arguments);
void refuse_board_options(const PoseArguments& arguments, const std::string& option);

// Each writes the camera file and its page, prints, and returns the exit status.
int pose_by_board(const PoseArguments& arguments, const std::filesystem::path& page, const LensRecord& lens,
                  Streams streams);
int pose_by_marks(const PoseArguments& arguments, const std::filesystem::path& page, const LensRecord& lens,
                  Streams streams);
// Once more from the corners or marks that a camera file keeps, through its own lens or another.
int pose_again(const PoseArguments& arguments, const std::filesystem::path& page, Streams streams);

}  // namespace jigtrue::cli
