#include "cli/commands.hpp"
#include "cli/guard_inputs.hpp"
#include "cli/page_beside.hpp"
#include "jigtrue/base/error.hpp"
#include "jigtrue/base/in_parallel.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/base/write_file.hpp"
#include "jigtrue/calibration/declared_slips.hpp"
#include "jigtrue/calibration/focal_length.hpp"
#include "jigtrue/calibration/lens_file.hpp"
#include "jigtrue/calibration/turned_photos.hpp"
#include "jigtrue/image/read_photo.hpp"
#include "jigtrue/report/board_scale.hpp"
#include "jigtrue/report/calibration_page.hpp"
#include "jigtrue/report/photo_advice.hpp"

#include <cstdio>
#include <filesystem>
#include <mutex>

namespace jigtrue::cli {
namespace {

struct LensArguments {
  std::vector<std::string> photos;
  std::string board;
  std::string model;
  std::string refit;
  std::string output;
};

constexpr const char* kLensHelp =
    "Fits the camera's lens from photos of a printed checkerboard. Needed once for a camera and its zoom.\n"
    "\n"
    "Take 10 to 20 photos: the board in hand or propped up, tilted by 20 to 45 degrees in turn towards every side, "
    "near and far,\n"
    "so that together the boards reach every corner of the picture. Keep it flat, sharp and evenly lit; do not zoom "
    "between.\n"
    "Measure the print with callipers over many squares along its long side: if ten squares are 249.0 mm long, give "
    "24.9 as their size.\n"
    "A sheet that is bowed, or whose short side is printed to another scale, is told and allowed for.\n"
    "\n"
    "--refit FILE fits once more from the corners that a lens.json or camera.json keeps, by another --model for "
    "instance: no photos needed.\n"
    "\n"
    "Beside lens.json a page (lens.html) shows what the photos cover, which to take next and which number to trust.\n"
    "\n"
    "Example: jigtrue lens fixtures/demo/cameras/attic/lens/*.jpg --board 10x7x20 -o lens.json";

LensPhoto read_board(const std::string& file, const BoardSpec& board, PhotoLook& look) {
  LensPhoto photo;
  look.file = file;
  photo.file = file;
  try {
    const Photo read = read_photo(file, PhotoColour::luma_only);
    photo.width_px = read.width_px();
    photo.height_px = read.height_px();
    photo.orientation = read.orientation;
    photo.focal_mm = read.focal_mm;
    photo.corners = find_board(read.luma, board);
    look.bright = bright_level(read.luma);
    if (photo.corners) look.board = look_at_board(read.luma, *photo.corners);
  } catch (const InputError& error) {
    photo.corners = Failure{error.what()};
  }
  return photo;
}

// Reads the photos side by side and says what each showed, in their order.
std::vector<LensPhoto> read_boards(const LensArguments& arguments, const BoardSpec& board,
                                   std::vector<PhotoLook>& looks, Streams streams) {
  constexpr int kThreads = 2;
  std::vector<LensPhoto> photos(arguments.photos.size());
  looks.resize(photos.size());
  std::vector<char> looked_at(photos.size(), 0);
  std::size_t told = 0;
  std::mutex mutex;
  in_parallel(photos.size(), kThreads, [&](std::size_t i, std::size_t) {
    LensPhoto photo = read_board(arguments.photos[i], board, looks[i]);
    const std::lock_guard<std::mutex> lock(mutex);
    photos[i] = std::move(photo);
    looked_at[i] = 1;
    for (; told < photos.size() && looked_at[told] != 0; ++told)
      streams.out << "  " << photos[told].file << ": "
                  << (photos[told].corners.ok() ? std::to_string(photos[told].corners->px.size()) + " corners"
                                                : photos[told].corners.reason())
                  << std::endl;
  });
  return photos;
}

void print_fit(const LensFit& fit, Streams streams) {
  char line[256];
  const double scale = mm_per_px(fit);
  streams.out << "\nmodel         rms px   held out px   mm at the boards   remark\n";
  for (const ModelTrial& trial : fit.trials) {
    if (trial.held_out_px > 0.0)
      std::snprintf(line, sizeof line, "%-12s  %6.3f   %11.3f   %16.4f   ", to_string(trial.model), trial.rms_px,
                    trial.held_out_px, scale * trial.held_out_px);
    else
      std::snprintf(line, sizeof line, "%-12s  %6.3f   %11s   %16s   ", to_string(trial.model), trial.rms_px, "-", "-");
    streams.out << (trial.fitted ? line : std::string(to_string(trial.model)) + "  not fitted   ") << trial.remark
                << "\n";
  }
  streams.out
      << "mm: what that error in px is at the boards' distance from the camera here; the pose command says it on "
         "the bed\n\nphotos:\n";
  for (const PhotoFit& photo : fit.photos) {
    if (photo.residuals_px.empty())
      std::snprintf(line, sizeof line, "           ");
    else
      std::snprintf(line, sizeof line, "%6.3f px  ", photo.rms_px);
    streams.out << (photo.used ? "  used   " : "  LEFT OUT ") << line << photo.file
                << (photo.reason.empty() ? "" : ": ") << photo.reason << "\n";
  }
  std::snprintf(
      line, sizeof line,
      "\nlens: %s, rms %.3f px over %d corners, which tell as much as %.0f independent ones; the model itself "
      "misses the lens by about %.3f px\n",
      to_string(fit.lens.model), fit.rms_px, fit.corner_count, fit.independent_corners, fit.model_error_px);
  streams.out << line;
  for (const std::string& note : fit.notes) streams.out << "note: " << note << "\n";
}

LensInputs lens_inputs(const LensArguments& arguments, std::vector<PhotoLook>& looks, Streams streams) {
  if (!arguments.refit.empty()) {
    if (!arguments.photos.empty() || !arguments.board.empty())
      throw input_error("--refit", "it cannot be combined with photos or --board",
                        "give the file that keeps them, or the photos with their board");
    return read_lens_inputs(read_text_file(arguments.refit), arguments.refit);
  }
  if (arguments.photos.empty())
    throw input_error("lens", "no photos are given", "give photos of the board, or --refit with a lens file");
  if (arguments.board.empty())
    throw input_error("--board", "it is missing", "give squares and their size in mm, e.g. --board 10x7x25");
  LensInputs inputs;
  inputs.board = parse_board_spec(arguments.board);
  streams.out << "looking for the board in " << arguments.photos.size() << " photos\n";
  inputs.photos = read_boards(arguments, inputs.board, looks, streams);
  return inputs;
}

std::string board_text(const BoardSpec& board) {
  char text[64];
  std::snprintf(text, sizeof text, "%dx%dx%g", board.columns, board.rows, board.square_mm);
  return text;
}

// Photos turned as their lens shows, and what is to be asked about the result, first in its notes.
LensFit fit_turned(LensInputs& inputs) {
  AlikePhotos alike = turn_alike(inputs.photos);
  if (inputs.orientation == 0) inputs.orientation = alike.orientation;
  LensFocalLength focal = focal_length_of(inputs.photos);
  if (!inputs.focal_mm) inputs.focal_mm = focal.focal_mm;
  LensFit fit = fit_lens(inputs.photos, inputs.options);
  if (const auto odd = turn_odd_ones(inputs.photos, fit); !odd.empty()) {
    alike.notes.insert(alike.notes.end(), odd.begin(), odd.end());
    fit = fit_lens(inputs.photos, inputs.options);
  }
  std::vector<std::string> notes = lens_questions(fit.lens, fit.covariance);
  if (const std::string question = board_question(inputs.board); !question.empty())
    notes.push_back("--board " + board_text(inputs.board) + ": " + question + ".");
  notes.insert(notes.end(), focal.notes.begin(), focal.notes.end());
  notes.insert(notes.end(), alike.notes.begin(), alike.notes.end());
  fit.notes.insert(fit.notes.begin(), notes.begin(), notes.end());
  return fit;
}

int run_lens(const LensArguments& arguments, Streams streams) {
  const std::filesystem::path page = page_beside(arguments.output);
  Paths inputs_given = paths_of(arguments.photos);
  inputs_given.emplace_back(arguments.refit);
  refuse_over_inputs(inputs_given, {arguments.output, page});
  const auto model = lens_model_from_string(arguments.model);
  if (!arguments.model.empty() && !model)
    throw input_error("--model", "\"" + arguments.model + "\" is not a lens model",
                      "use radial2, radial5, rational8 or equidistant4, or leave it out");
  std::vector<PhotoLook> looks;
  LensInputs inputs = lens_inputs(arguments, looks, streams);
  if (model) inputs.options.model = model;
  inputs.options.judge_board_shape = true;
  const LensFit fit = fit_turned(inputs);
  print_fit(fit, streams);
  const std::vector<std::string> faults = photo_faults(looks, fit.lens.width_px, fit.lens.height_px);
  for (const std::string& sentence : faults) streams.out << "photo: " << sentence << "\n";
  for (const std::string& sentence : next_photos(fit)) streams.out << "next photo: " << sentence << "\n";
  const LensFileNotes notes{inputs.board, time_now(), software_name(), inputs.orientation, inputs.focal_mm};
  const std::string source =
      "board " + board_text(inputs.board) + ", " + std::to_string(inputs.photos.size()) + " photos";
  write_files({{arguments.output, lens_json(fit, inputs.options, notes)},
               {page, lens_page(fit, faults, {source, notes.created, version()})}});
  streams.out << "wrote " << arguments.output << "\npage: " << page.string() << "\n";
  return 0;
}

}  // namespace

void add_lens_command(CLI::App& program, Action& action) {
  auto arguments = std::make_shared<LensArguments>();
  CLI::App* command = program.add_subcommand("lens", "Fit the lens from photos of a checkerboard (once per camera)");
  command->description(kLensHelp);
  command->add_option("photos", arguments->photos, "Photos of the board: JPEG, PNG or TIFF");
  command->add_option("--board", arguments->board,
                      "Squares and their size in mm, COLUMNSxROWSxSIZE, e.g. 10x7x25 (squares, not inner corners)");
  command->add_option("--refit", arguments->refit, "lens.json or camera.json whose kept corners are fitted once more");
  command->add_option("--model", arguments->model,
                      "radial2, radial5, rational8 or equidistant4; chosen on held-out photos when left out");
  command->add_option("-o,--output", arguments->output, "Where to write lens.json")->required();
  command->callback(
      [arguments, &action] { action = [arguments](Streams streams) { return run_lens(*arguments, streams); }; });
}

}  // namespace jigtrue::cli
