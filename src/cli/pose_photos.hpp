// The photos of a pose: how they lie, the board in them, the marks stuck to the bed.
#pragma once
#include "cli/pose_arguments.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/turned_photos.hpp"
#include "jigtrue/image/photo.hpp"

#include <string>
#include <vector>

namespace jigtrue::cli {

// As the lens's photos lie. What was turned is added to the notes.
[[nodiscard]] Photo read_lying_alike(const std::string& file, const LensRecord& lens, std::vector<std::string>& notes,
                                     PhotoTurn& by);

// A photo of the board and where in it the corners are.
struct BoardPhoto {
  Photo photo;
  FlatBoardPhoto flat;
  PhotoTurn turn = PhotoTurn::none;  // what it was turned by against what the user sees of it
};
[[nodiscard]] BoardPhoto read_board_photo(const std::string& file, const LensRecord& lens, const BoardSpec& board,
                                          std::vector<std::string>& notes);
[[nodiscard]] std::vector<FlatBoardPhoto> flat_boards(const std::vector<BoardPhoto>& photos);

// The marks stuck to the bed, seen in the photo; what they say of the print's scale goes into the pose's notes.
[[nodiscard]] std::vector<WitnessMark> witness_marks(const PoseArguments& arguments, const CameraFileNotes& notes,
                                                     const Photo& photo, PoseFit& pose, Streams streams);

// What the witness marks show where a board's place cannot: the camera shifted along the bed between two photos. Marks
// that the board covers say nothing.
void refuse_moved_between(const std::string& first, const std::vector<BoardPhoto>& further, const CameraRecord& record);

// What is asked of a camera so placed comes before its other notes.
void add_questions(const PoseArguments& arguments, const std::string& file, PhotoTurn by, const LensRecord& lens,
                   const std::optional<BoardPlacement>& placement, PoseFit& pose);

}  // namespace jigtrue::cli
