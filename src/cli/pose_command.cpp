#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/numbers.hpp"
#include "cli/page_beside.hpp"
#include "cli/photo_top.hpp"
#include "cli/pose_questions.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/calibration/camera_drift.hpp"
#include "jigtrue/calibration/camera_file.hpp"
#include "jigtrue/calibration/declared_slips.hpp"
#include "jigtrue/calibration/focal_length.hpp"
#include "jigtrue/calibration/held_out_on_bed.hpp"
#include "jigtrue/calibration/laid_board.hpp"
#include "jigtrue/calibration/locate_by_marks.hpp"
#include "jigtrue/calibration/machine_figures.hpp"
#include "jigtrue/calibration/marks_and_boards.hpp"
#include "jigtrue/calibration/marks_file.hpp"
#include "jigtrue/calibration/turned_photos.hpp"
#include "jigtrue/calibration/witness.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/report/calibration_page.hpp"

#include <cmath>
#include <cstdio>
#include <optional>

namespace jigtrue::cli {
namespace {

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

constexpr const char* kPoseHelp =
    "Ties the camera to the bed from one photo of marks that the machine itself has burned, or of the checkerboard "
    "lying "
    "flat on it.\n"
    "Needed whenever the camera has moved.\n"
    "\n"
    "First choice, marks: let the machine burn them on a scrap sheet at coordinates of its own (jigtrue target writes "
    "the "
    "drawing and the\n"
    "marks' file), photograph the sheet where it lies, and give the file as --marks. The camera is then tied to the "
    "beam "
    "itself and\n"
    "nothing is laid by hand. What five marks or more say about the machine (scale along X less Y, squareness) is "
    "printed "
    "and kept;\n"
    "check --apply-machine corrects by it. Each axis's own scale shows only against a camera file made from a board "
    "without the camera\n"
    "having moved (--compare).\n"
    "\n"
    "Second choice, the board laid by hand: what is laid by hand is known to some tenths of a millimetre, and so is "
    "every "
    "point of the\n"
    "bed then. Lay it where you know its place: its origin is the outer corner of that black corner square from which, "
    "looking at the\n"
    "print, the long side runs to the right and the short side runs up. Measure with callipers or a rule where that "
    "corner lies on the\n"
    "bed (X, Y from the machine's own zero), how the long side is turned (0 along +X, counter-clockwise from above), "
    "how "
    "high the printed\n"
    "face is above the bed, and the squares' size over many of them. --laid-within and --print-within say how well you "
    "know that, and\n"
    "widen every stated uncertainty. A board whose counts are both odd or both even reads several ways: --photo-top "
    "says "
    "which side of\n"
    "the bed is at the top of the photo. Of a part of a board --origin-px names besides the printed corner that "
    "--board-at speaks of.\n"
    "The page beside camera.json shows the photo with the bed drawn into it: look at "
    "it "
    "once.\n"
    "\n"
    "Further photos after the first: the same board laid flat at other places of the bed, which need not be measured, "
    "camera untouched.\n"
    "They say nothing of where the origin lies, but make the bed's tilt and the camera's height surer: two or three, "
    "toward the bed's\n"
    "corners that the first one left empty, serve best. After a photo of marks they serve too, with --board (no "
    "--board-at, for\n"
    "nothing is measured; --board-height where the print is not on the bed itself): the marks say where the bed lies, "
    "the boards how it\n"
    "is tilted, which a machine's own faults can imitate in marks. The sheet of marks again at another place would "
    "repeat the machine's\n"
    "faults: it is not taken.\n"
    "Marks stuck to the bed for good (--witness X,Y, to within 3 mm) tell later photos whether the camera still stands "
    "there, and three\n"
    "or more tell now whether the board was declared as it lies.\n"
    "\n"
    "Example: jigtrue pose fixtures/demo/cameras/attic/pose.jpg --lens lens.json --board 10x7x20 --board-at 78,302,-88 "
    "--board-height 3 -o camera.json";

// The marks stuck to the bed, seen in the photo; what they say of the print's scale goes into the pose's notes.
std::vector<WitnessMark> witness_marks(const PoseArguments& arguments, const CameraFileNotes& notes, const Photo& photo,
                                       PoseFit& pose, Streams streams) {
  std::vector<Vector2d> nominal;
  std::vector<Vector2d> measured;
  for (const std::string& text : arguments.witness) {
    const auto xy = numbers("--witness", text, 2, "X,Y");
    nominal.emplace_back(xy[0], xy[1]);
    for (std::size_t i = 0; i + 1 < nominal.size(); ++i)
      if ((nominal[i] - nominal.back()).norm() < 2.0 * kWitnessSearch_mm)
        throw input_error("--witness " + text, "another witness mark is declared within 6 mm of it",
                          "give each mark once");
  }
  std::vector<WitnessMark> marks;
  for (const WitnessSighting& sighting : find_witness_marks(photo.luma, pose.camera, nominal)) {
    char place[64];
    std::snprintf(place, sizeof place, "%g,%g", sighting.nominal_mm.x(), sighting.nominal_mm.y());
    if (!sighting.mark.ok())
      throw input_error(
          arguments.photos.front(),
          "no witness mark at " + std::string(place) + " (" + sighting.mark.reason() + ")" +
              (notes.placement ? slip_by_marks(photo, pose, *notes.board, *notes.placement, nominal) : std::string()),
          "stick it there, free its view, check that the photo is not mirrored, or leave that --witness out");
    marks.push_back(*sighting.mark);
    char line[128];
    std::snprintf(line, sizeof line, "witness mark %s seen at (%.2f, %.2f) px\n", place, marks.back().px.x(),
                  marks.back().px.y());
    streams.out << line;
    if (const auto bed = bed_point_at(pose.camera, marks.back().px, 0.0)) measured.push_back(bed->mm);
  }
  if (const auto scale = scale_by_marks(nominal, measured);
      scale && notes.placement && measured.size() == nominal.size())
    if (const std::string question = scale_question(*scale); !question.empty())
      pose.notes.insert(pose.notes.begin(), question);
  return marks;
}

std::string board_remedy(FailureCode code) {
  if (code == FailureCode::another_board)
    return "count squares, not corners, along both sides, and give those as --board";
  if (code == FailureCode::part_of_board)
    return "show the whole board, or count its squares, not corners, along both sides and give those as --board";
  return "show the whole board, flat, sharp and evenly lit";
}

// As the lens's photos lie. What was turned is added to the notes.
Photo read_lying_alike(const std::string& file, const LensRecord& lens, std::vector<std::string>& notes,
                       PhotoTurn& by) {
  Photo photo = read_photo(file, PhotoColour::luma_only);
  if (const auto other = other_focal_length(photo, lens))
    notes.push_back(file + ": " + other->text + "; " + other->remedy + ".");
  by = turn_between(photo.orientation, lens.orientation);
  if (by == PhotoTurn::none) return photo;
  notes.push_back(turn_note(file, by, "its orientation tag says otherwise, but the lens was not turned"));
  return turned(std::move(photo), by);
}

// A photo of the board and where in it the corners are.
struct BoardPhoto {
  Photo photo;
  FlatBoardPhoto flat;
  PhotoTurn turn = PhotoTurn::none;  // what it was turned by against what the user sees of it
};
BoardPhoto read_board_photo(const std::string& file, const LensRecord& lens, const BoardSpec& board,
                            std::vector<std::string>& notes) {
  BoardPhoto read;
  read.photo = read_lying_alike(file, lens, notes, read.turn);
  auto corners = find_board(read.photo.luma, board);
  if (!corners) throw input_error(file, corners.reason(), board_remedy(corners.failure().code));
  const auto by = turn_to_fit(lens, *corners, read.photo.width_px(), read.photo.height_px());
  if (by && *by != PhotoTurn::none) {
    turn(*corners, read.photo.width_px(), read.photo.height_px(), *by);
    read.photo = turned(std::move(read.photo), *by);
    read.turn = after(read.turn, *by);
    notes.push_back(turn_note(file, *by, "so its board fits the lens, as it is it does not"));
  }
  read.flat = {file, read.photo.width_px(), read.photo.height_px(), std::move(*corners)};
  return read;
}

std::vector<FlatBoardPhoto> flat_boards(const std::vector<BoardPhoto>& photos) {
  std::vector<FlatBoardPhoto> flat;
  flat.reserve(photos.size());
  for (const BoardPhoto& photo : photos) flat.push_back(photo.flat);
  return flat;
}

PoseFit pose_by_boards(const LensRecord& lens, const std::vector<BoardPhoto>& photos, const BoardPlacement& placement) {
  Outcome<PoseFit> pose = fit_pose_to_boards(lens, flat_boards(photos), placement);
  if (!pose) throw InputError("", pose.failure());
  return std::move(pose).value();
}

// What the witness marks show where a board's place cannot: the camera shifted along the bed between two photos. Marks
// that the board covers say nothing.
void refuse_moved_between(const std::string& first, const std::vector<BoardPhoto>& further,
                          const CameraRecord& record) {
  for (const BoardPhoto& photo : further) {
    const CameraDrift drift = watch_camera(photo.photo.luma, record);
    if (drift.stand == CameraStand::moved)
      throw input_error(
          photo.flat.file,
          "the witness marks are not where they are in " + first + ": the camera has moved between the two",
          "take all photos anew without touching it, or leave this one out");
  }
}

void refuse_odd_height(const PoseArguments& arguments) {
  const double height_mm = arguments.board_height_mm.value_or(0.0);
  if (!std::isfinite(height_mm) || std::abs(height_mm) > 500.0)
    throw input_error("--board-height", "it must lie within 500 mm of the bed",
                      "give the printed face's height above the bed in mm");
}

constexpr double kSigmas95 = 1.959964;

void refuse_odd_tolerances(const PoseArguments& arguments) {
  if (!(arguments.laid_within_mm >= 0.0 && arguments.laid_within_mm <= 50.0))
    throw input_error("--laid-within", "it must lie between 0 and 50 mm",
                      "give how far from --board-at the board's corners may lie");
  if (!(arguments.print_within_percent >= 0.0 && arguments.print_within_percent <= 10.0))
    throw input_error("--print-within", "it must lie between 0 and 10 %",
                      "give how far the squares' size may be off, in percent");
}

// by: what the photo was turned by against what the user sees of it.
PoseAnswers answers_of(const PoseArguments& arguments, PhotoTurn by = PhotoTurn::none) {
  std::optional<PhotoTop> top = photo_top(arguments.photo_top);
  if (top) top = turned(*top, by);
  return {arguments.unusual, arguments.another_board, top};
}

// Renumbers the first photo's corners in the frame that --board-at speaks of.
void lay_first(const PoseArguments& arguments, const LensRecord& lens, const BoardPlacement& placement,
               BoardPhoto& first) {
  BoardHints hints;
  hints.top = answers_of(arguments, first.turn).top;
  if (!arguments.origin_px.empty()) {
    const auto px = numbers("--origin-px", arguments.origin_px, 2, "PX,PY");
    const bool exchanged = first.turn == PhotoTurn::quarter || first.turn == PhotoTurn::three_quarters;
    const int width_px = first.photo.width_px();
    const int height_px = first.photo.height_px();
    hints.origin_px =
        turned(Vector2d(px[0], px[1]), exchanged ? height_px : width_px, exchanged ? width_px : height_px, first.turn);
  }
  auto laid = lay_board(lens, first.flat.corners, placement, hints);
  if (!laid) throw input_error(first.flat.file, laid.reason());
  first.flat.corners = std::move(laid).value();
}

void add_questions(const PoseArguments& arguments, const std::string& file, PhotoTurn by, const LensRecord& lens,
                   const std::optional<BoardPlacement>& placement, PoseFit& pose) {
  const auto questions = question_camera(answers_of(arguments, by), file, lens, pose, placement);
  pose.notes.insert(pose.notes.begin(), questions.begin(), questions.end());
}

void read_board_options(const PoseArguments& arguments, CameraFileNotes& notes) {
  if (arguments.board.empty() || arguments.board_at.empty())
    throw input_error(arguments.board.empty() ? "--board" : "--board-at", "it is missing",
                      "give --board, --board-at and --board-height, or --marks");
  notes.board = parse_board_spec(arguments.board);
  const auto at = numbers("--board-at", arguments.board_at, 3, "X,Y,ANGLE");
  if (!arguments.board_height_mm)
    throw input_error(
        "--board-height", "it is missing",
        "give the printed face's height above the bed in mm: what the board is thick, and what lies under "
        "it; 0 for a sheet of paper on the bed itself");
  BoardPlacement placement;
  placement.x_mm = at[0];
  placement.y_mm = at[1];
  placement.angle_deg = at[2];
  refuse_odd_height(arguments);
  placement.height_mm = *arguments.board_height_mm;
  refuse_odd_tolerances(arguments);
  // the origin's corner and the far end of the long side, each to within laid_within_mm
  const double long_side_mm = notes.board->columns * notes.board->square_mm;
  placement.xy_sigma_mm = arguments.laid_within_mm / kSigmas95;
  placement.angle_sigma_deg = deg_from_rad(std::sqrt(2.0) * placement.xy_sigma_mm / long_side_mm);
  placement.scale_sigma = arguments.print_within_percent / 100.0 / kSigmas95;
  notes.placement = placement;
}

void refuse_board_options(const PoseArguments& arguments, const std::string& option) {
  if (!arguments.board.empty() || !arguments.board_at.empty() || arguments.board_height_mm)
    throw input_error(option, "it cannot be combined with --board", "give the board's options or " + option);
}

Outcome<LocatedPhoto> pose_by_marks(const PoseArguments& arguments, const LensRecord& lens, const Photo& photo,
                                    PhotoTurn by, const MarksFile& file) {
  LocateOptions options;
  options.top = answers_of(arguments, by).top;
  options.field_mm = file.field_mm;
  options.place_sigma_mm = file.sigma_mm;
  options.burned = true;
  return locate_by_marks(photo.luma, lens, file.marks_mm, options);
}

std::string mark_list(const MarksFile& file, const std::vector<std::size_t>& indices) {
  std::string list;
  for (const std::size_t i : indices) {
    char place[64];
    std::snprintf(place, sizeof place, "%s(%g, %g)", list.empty() ? "" : ", ", file.marks_mm[i].x(),
                  file.marks_mm[i].y());
    list += place;
  }
  return list;
}

void add_notes(const MarksFile& file, LocatedPhoto& located) {
  std::vector<std::string>& notes = located.pose.notes;
  if (!located.left_out.empty())
    notes.push_back("left out, for not lying to the others as declared: " + mark_list(file, located.left_out));
  if (!located.not_seen.empty())
    notes.push_back("outside the picture or not seen: " + mark_list(file, located.not_seen));
}

std::string percent(const char* name, const Figure& figure) {
  char text[120];
  std::snprintf(text, sizeof text, "  %-26s %+.3f %% +/- %.3f %%\n", name, 100.0 * figure.value, 100.0 * figure.u95);
  return text;
}

Outcome<MachineReading> machine_reading(const PoseArguments& arguments, const LocatedPhoto& located,
                                        const std::optional<CameraRecord>& compared) {
  const auto figures = compared ? machine_figures(located, *compared) : machine_figures(located);
  if (compared && !figures && located.used.size() >= 5)
    throw input_error(arguments.compare, figures.reason(), "give the camera file of this bed, camera unmoved");
  if (!figures) return figures.failure();
  const auto map = beam_map(located);
  if (!map) return map.failure();
  return MachineReading{*figures, *map};
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

// The compared file speaks for this photo only while the camera stands where it stood.
void refuse_moved(const PoseArguments& arguments, const CameraRecord& compared, const Photo& photo) {
  if (photo.width_px() != compared.camera.lens.width_px || photo.height_px() != compared.camera.lens.height_px)
    throw input_error(arguments.compare, "it is for photos of another size", "give the camera file of this camera");
  // marks that the burned sheet covers say nothing
  const CameraDrift drift = watch_camera(photo.luma, compared);
  if (drift.stand == CameraStand::moved)
    throw input_error(arguments.compare, drift_reason(compared, drift),
                      "compare with a camera file that was made without the camera having moved");
}

// The page is written from the file as read back, so that it says what the file says.
void write_pose(const PoseArguments& arguments, const std::filesystem::path& page, const PoseFit& pose,
                const std::string& json, const std::string& source, const CameraFileNotes& notes,
                const Photo* photo = nullptr) {
  const CameraRecord record = read_camera_json(json, arguments.output);
  const PosePageInputs inputs{arguments.page_height_mm, photo, notes.board, notes.placement, notes.mark_place_sigma_mm};
  write_files({{arguments.output, json}, {page, pose_page(pose, record, inputs, {source, notes.created, version()})}});
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

void print_files(const PoseArguments& arguments, const std::filesystem::path& page, Streams streams) {
  streams.out << "wrote " << arguments.output << "\npage: " << page.string() << "\n";
}

std::string count_of(const std::vector<std::string>& photos) {
  return photos.size() == 1 ? photos.front()
                            : photos.front() + " and " + std::to_string(photos.size() - 1) + " further";
}

std::vector<std::string> files_of(const std::vector<FlatBoardPhoto>& photos) {
  std::vector<std::string> files;
  files.reserve(photos.size());
  for (const FlatBoardPhoto& photo : photos) files.push_back(photo.file);
  return files;
}

void keep_marks(const LocatedPhoto& located, double place_sigma_mm, CameraFileNotes& notes) {
  notes.mark_place_sigma_mm = place_sigma_mm;
  for (const LocatedMark& mark : located.used) notes.mark_sigma_px.push_back(mark.sigma_px);
}

// The pose once more from the marks, and boards beside them, that a camera file keeps.
int refit_marks(const PoseArguments& arguments, const std::filesystem::path& page, const CameraRecord& before,
                const LensRecord& lens, const MarkInputs& inputs, Streams streams) {
  if (lens.lens.width_px != before.lens.lens.width_px || lens.lens.height_px != before.lens.lens.height_px)
    throw input_error("--lens", "it is for photos of another size than " + inputs.photo, "give this camera's lens");
  LocateOptions options;
  options.place_sigma_mm = inputs.place_sigma_mm;
  options.burned = true;
  auto located = locate_by_kept_marks(lens, inputs.marks, before.camera.camera_from_bed, options);
  if (!located) throw input_error(arguments.refit, located.reason());
  CameraFileNotes notes;
  keep_marks(*located, inputs.place_sigma_mm, notes);
  located = strengthen_by_boards(lens, *located, inputs.boards, inputs.board_height_mm);
  if (!located) throw input_error(arguments.refit, located.reason());
  notes.photo = inputs.photo;
  notes.lens_file = arguments.lens.empty() ? arguments.refit : arguments.lens;
  notes.marks_file = inputs.marks_file;
  if (!inputs.boards.empty()) notes.board = inputs.boards.front().corners.board;
  notes.board_height_mm = inputs.board_height_mm;
  notes.created = time_now();
  notes.software = software_name();
  const Outcome<MachineReading> machine = machine_reading(arguments, *located, std::nullopt);
  const std::string json = camera_json(located->pose, lens, before.witness, notes,
                                       machine ? std::optional<MachineReading>(*machine) : std::nullopt);
  write_pose(arguments, page, located->pose, json, inputs.photo + ", marks as kept in " + arguments.refit, notes);
  print_pose(lens, located->pose, true, streams);
  print_machine(machine, streams);
  print_files(arguments, page, streams);
  return 0;
}

// The pose once more from the corners or marks that a camera file keeps, through its own lens or another.
int run_refit(const PoseArguments& arguments, const std::filesystem::path& page, Streams streams) {
  if (!arguments.photos.empty() || !arguments.marks.empty() || !arguments.witness.empty())
    throw input_error("--refit", "it cannot be combined with a photo, --marks or --witness",
                      "give the camera file that keeps them, and --lens where another lens is meant");
  refuse_board_options(arguments, "--refit");
  const std::string text = read_text_file(arguments.refit);
  const CameraRecord before = read_camera_json(text, arguments.refit);
  const LensRecord lens =
      arguments.lens.empty() ? before.lens : read_lens_json(read_text_file(arguments.lens), arguments.lens);
  if (const auto marks = read_mark_inputs(text, arguments.refit))
    return refit_marks(arguments, page, before, lens, *marks, streams);
  const CameraInputs inputs = read_camera_inputs(text, arguments.refit);
  const auto pose = fit_pose_to_boards(lens, inputs.photos, inputs.placement);
  if (!pose) throw input_error(arguments.refit, pose.reason());
  CameraFileNotes notes;
  notes.photo = inputs.photos.front().file;
  notes.lens_file = arguments.lens.empty() ? arguments.refit : arguments.lens;
  notes.board = inputs.photos.front().corners.board;
  notes.placement = inputs.placement;
  notes.created = time_now();
  notes.software = software_name();
  const std::string json = camera_json(*pose, lens, before.witness, notes);
  write_pose(arguments, page, *pose, json, count_of(files_of(inputs.photos)) + ", as kept in " + arguments.refit,
             notes);
  print_pose(lens, *pose, false, streams);
  print_files(arguments, page, streams);
  return 0;
}

int run_board(const PoseArguments& arguments, const std::filesystem::path& page, const LensRecord& lens,
              Streams streams) {
  CameraFileNotes notes;
  notes.photo = arguments.photos.front();
  notes.lens_file = arguments.lens;
  read_board_options(arguments, notes);
  refuse_odd_board(answers_of(arguments), lens, *notes.board);
  std::vector<BoardPhoto> photos;
  std::vector<std::string> turns;
  for (const std::string& file : arguments.photos) photos.push_back(read_board_photo(file, lens, *notes.board, turns));
  lay_first(arguments, lens, *notes.placement, photos.front());
  PoseFit pose = pose_by_boards(lens, photos, *notes.placement);
  pose.notes.insert(pose.notes.end(), turns.begin(), turns.end());
  add_questions(arguments, photos.front().flat.file, photos.front().turn, lens, notes.placement, pose);
  const std::vector<WitnessMark> witness = witness_marks(arguments, notes, photos.front().photo, pose, streams);
  if (const std::string unchecked = unchecked_laying(pose.camera, *notes.placement, witness.size()); !unchecked.empty())
    pose.notes.push_back(unchecked);
  notes.created = time_now();
  notes.software = software_name();
  const std::string json = camera_json(pose, lens, witness, notes);
  if (!witness.empty())
    refuse_moved_between(photos.front().flat.file, {photos.begin() + 1, photos.end()},
                         read_camera_json(json, arguments.output));
  write_pose(arguments, page, pose, json,
             count_of(arguments.photos) + ", board " + arguments.board + " at " + arguments.board_at, notes,
             &photos.front().photo);
  print_pose(lens, pose, false, streams);
  print_files(arguments, page, streams);
  return 0;
}

// Photos after that of the marks: boards at places that nobody measured.
std::vector<BoardPhoto> boards_beside_marks(const PoseArguments& arguments, const LensRecord& lens,
                                            CameraFileNotes& notes, std::vector<std::string>& turns) {
  std::vector<BoardPhoto> boards;
  if (arguments.photos.size() == 1) {
    refuse_board_options(arguments, "--marks");
    return boards;
  }
  if (arguments.board.empty())
    throw input_error(arguments.photos[1],
                      "photos after that of the marks must show the checkerboard; the marks again elsewhere would "
                      "repeat the machine's faults",
                      "give --board, or one photo of the marks");
  if (!arguments.board_at.empty())
    throw input_error("--board-at", "the marks say where the bed lies, the boards of further photos need no place",
                      "leave it out");
  refuse_odd_height(arguments);
  notes.board = parse_board_spec(arguments.board);
  refuse_odd_board(answers_of(arguments), lens, *notes.board);
  for (auto file = arguments.photos.begin() + 1; file != arguments.photos.end(); ++file)
    boards.push_back(read_board_photo(*file, lens, *notes.board, turns));
  return boards;
}

// What is laid by hand has tolerances and an origin; marks have neither.
void refuse_laying_options(const PoseArguments& arguments) {
  const char* option = arguments.laid_within_mm != 0.0         ? "--laid-within"
                       : arguments.print_within_percent != 0.0 ? "--print-within"
                       : !arguments.origin_px.empty()          ? "--origin-px"
                                                               : nullptr;
  if (option != nullptr)
    throw input_error(option, "it speaks of a board laid by hand, and --marks needs none", "leave it out");
}

int run_marks(const PoseArguments& arguments, const std::filesystem::path& page, const LensRecord& lens,
              Streams streams) {
  refuse_laying_options(arguments);
  const std::string& file = arguments.photos.front();
  CameraFileNotes notes;
  notes.photo = file;
  notes.lens_file = arguments.lens;
  notes.marks_file = arguments.marks;
  const MarksFile marks = read_marks_json(read_text_file(arguments.marks), arguments.marks);
  std::optional<CameraRecord> compared;
  if (!arguments.compare.empty()) compared = read_camera_json(read_text_file(arguments.compare), arguments.compare);
  std::vector<std::string> turns;
  PhotoTurn by = PhotoTurn::none;
  const Photo photo = read_lying_alike(file, lens, turns, by);
  if (compared) refuse_moved(arguments, *compared, photo);
  auto located = pose_by_marks(arguments, lens, photo, by, marks);
  if (!located)
    throw input_error(file, located.reason(),
                      "show the whole sheet, sharp and evenly lit, with the marks file that it was burned by, and "
                      "give --photo-top where it is asked for");
  add_notes(marks, *located);
  const std::vector<BoardPhoto> boards = boards_beside_marks(arguments, lens, notes, turns);
  keep_marks(*located, marks.sigma_mm, notes);
  notes.board_height_mm = arguments.board_height_mm.value_or(0.0);
  located = strengthen_by_boards(lens, *located, flat_boards(boards), notes.board_height_mm);
  if (!located) throw InputError("", located.failure());
  PoseFit& pose = located->pose;
  pose.notes.insert(pose.notes.end(), turns.begin(), turns.end());
  add_questions(arguments, file, by, lens, std::nullopt, pose);
  const std::vector<WitnessMark> witness = witness_marks(arguments, notes, photo, pose, streams);
  notes.created = time_now();
  notes.software = software_name();
  const Outcome<MachineReading> machine = machine_reading(arguments, *located, compared);
  const std::string json =
      camera_json(pose, lens, witness, notes, machine ? std::optional<MachineReading>(*machine) : std::nullopt);
  if (!witness.empty()) refuse_moved_between(file, boards, read_camera_json(json, arguments.output));
  write_pose(arguments, page, pose, json, count_of(arguments.photos) + ", " + arguments.marks, notes, &photo);
  print_pose(lens, pose, true, streams);
  print_machine(machine, streams);
  print_files(arguments, page, streams);
  return 0;
}

Paths pose_inputs(const PoseArguments& arguments) {
  Paths inputs = paths_of(arguments.photos);
  for (const std::string& file : {arguments.lens, arguments.marks, arguments.compare, arguments.refit})
    inputs.emplace_back(file);
  return inputs;
}

int run_pose(const PoseArguments& arguments, Streams streams) {
  const std::filesystem::path page = page_beside(arguments.output);
  refuse_over_inputs(pose_inputs(arguments), {arguments.output, page});
  if (!std::isfinite(arguments.page_height_mm) || std::abs(arguments.page_height_mm) > 500.0)
    throw input_error("--page-height", "it must lie within 500 mm of the bed", "give a blank's height in mm");
  if (!arguments.refit.empty()) return run_refit(arguments, page, streams);
  if (arguments.photos.empty())
    throw input_error("pose", "no photo is given", "give the photo of the board, or --refit with a camera file");
  if (arguments.lens.empty()) throw input_error("--lens", "it is missing", "give the lens.json of this camera");
  const LensRecord lens = read_lens_json(read_text_file(arguments.lens), arguments.lens);
  if (!arguments.compare.empty() && arguments.marks.empty())
    throw input_error("--compare", "it needs --marks", "leave it out");
  return arguments.marks.empty() ? run_board(arguments, page, lens, streams)
                                 : run_marks(arguments, page, lens, streams);
}

}  // namespace

void add_pose_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<PoseArguments>();
  CLI::App* command =
      program.add_subcommand("pose", "Tie the camera to the bed, by burned marks or a board (whenever it has moved)");
  command->description(kPoseHelp);
  command->add_option(
      "photos", arguments->photos,
      "Photo of the board flat on the bed, or of the marks; further ones with the board flat elsewhere, to "
      "strengthen the plane");
  command->add_option("--lens", arguments->lens, "lens.json of this camera");
  command->add_option("--board", arguments->board, "Squares and their size in mm, e.g. 10x7x25");
  command->add_option("--board-at", arguments->board_at,
                      "X,Y,ANGLE: where the board's origin lies on the bed, how its +X is turned");
  command->add_option("--board-height", arguments->board_height_mm,
                      "Height of the printed face above the bed, mm: needed with --board-at");
  command->add_option("--laid-within", arguments->laid_within_mm,
                      "With --board-at: how far the board's corners may lie from there, mm (95 %); widens every "
                      "stated uncertainty");
  command->add_option("--print-within", arguments->print_within_percent,
                      "With --board-at: how far the squares' size may be off, percent (95 %); the same");
  command->add_flag("--another-board", arguments->another_board,
                    "The board is not the one that the lens's photos showed");
  command->add_flag("--unusual", arguments->unusual,
                    "A board or a camera's place as no shop has it is meant: do not ask");
  command->add_option("--marks", arguments->marks,
                      "marks.json: marks burned at known places, instead of a board at one");
  add_photo_top(*command, arguments->photo_top,
                "back, front, left or right: the side of the bed at the top of the photo. Needed when the board "
                "or the marks look the same from several sides; else it is checked against the rest");
  command->add_option("--origin-px", arguments->origin_px,
                      "PX,PY: a pixel near the printed corner whose place --board-at says; needed when only a part of "
                      "the board is in view");
  command->add_option("--compare", arguments->compare,
                      "camera.json by a board, camera unmoved: then the marks tell the machine's scale");
  command->add_option("--witness", arguments->witness, "X,Y of a mark stuck to the bed for good (repeatable)")
      ->allow_extra_args(true);
  command->add_option("--refit", arguments->refit,
                      "camera.json whose kept corners or marks are fitted once more, through --lens where given");
  command->add_option("--page-height", arguments->page_height_mm,
                      "Height above the bed of the page's second map, mm (14): that of your blanks' crowns");
  command->add_option("-o,--output", arguments->output, "Where to write camera.json; its page goes beside it")
      ->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_pose(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
