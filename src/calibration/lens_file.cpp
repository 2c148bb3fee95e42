#include "jigtrue/calibration/lens_file.hpp"

#include "jigtrue/base/error.hpp"

#include <cmath>

#include "calibration/json_write.hpp"
#include "calibration/lens_json.hpp"

namespace jigtrue {

namespace {

constexpr JsonForm kLensForm{"a lens file", "jigtrue.lens/1", "make it again with the lens command"};
constexpr double kPxStep = 1e-4;     // of corners in a file: far below what any is known to
constexpr double kSigmaStep = 1e-5;  // of their sigmas

// Whose corner each point is, in squares from the board's first inner corner.
std::vector<GridPlace> places_of(const std::vector<SeenPoint>& points, const BoardSpec& board) {
  std::vector<GridPlace> places;
  for (const SeenPoint& p : points) {
    const Vector2d at = p.mm.head<2>() / board.square_mm;
    places.push_back({static_cast<int>(std::lround(at.x())) - 1, static_cast<int>(std::lround(at.y())) - 1});
  }
  return places;
}

bool every_corner_in_order(const std::vector<GridPlace>& places, const BoardSpec& board) {
  BoardCorners whole;
  whole.board = board;
  if (static_cast<int>(places.size()) != board.corner_count()) return false;
  for (std::size_t i = 0; i < places.size(); ++i)
    if (places[i] != whole.place(i)) return false;
  return true;
}

Json photo_json(const PhotoFit& photo, const BoardSpec& board) {
  Json json = {{"file", photo.file}, {"used", photo.used}};
  // a photo that no pose fits has no error to tell
  json["rms_px"] = photo.residuals_px.empty() ? Json() : Json(rounded(photo.rms_px, 1e-6));
  if (!photo.used) json["reason"] = photo.reason;
  if (photo.points.empty()) return json;
  Json corners = Json::array();
  Json sigma = Json::array();
  Json left_out = Json::array();
  for (std::size_t i = 0; i < photo.points.size(); ++i) {
    corners.push_back({rounded(photo.points[i].px.x(), kPxStep), rounded(photo.points[i].px.y(), kPxStep)});
    sigma.push_back(rounded(photo.points[i].sigma_px, kSigmaStep));
    if (photo.used && !photo.point_used[i]) left_out.push_back(i);
  }
  if (!left_out.empty()) json["corners_left_out"] = left_out;
  if (photo.used) json["camera_from_board"] = json_of(photo.camera_from_board);
  json["corners_px"] = corners;  // in the board's order: row by row from the origin
  json["corners_sigma_px"] = sigma;
  const std::vector<GridPlace> places = places_of(photo.points, board);
  if (every_corner_in_order(places, board)) return json;
  json["corners_at"] = Json::array();  // column and row of each
  for (const GridPlace& place : places) json["corners_at"].push_back({place.column, place.row});
  return json;
}

Json trial_json(const ModelTrial& trial) {
  Json json = {{"model", to_string(trial.model)}};
  if (trial.fitted) json["rms_px"] = rounded(trial.rms_px, 1e-6);
  if (trial.held_out_px > 0.0) {
    json["held_out_px"] = rounded(trial.held_out_px, 1e-6);
    json["held_out_by_noise_px"] = rounded(trial.by_noise_px, 1e-6);
    json["held_out_ratio"] = {rounded(trial.held_out_ratio, 1e-6), rounded(trial.held_out_ratio_se, 1e-6)};
  }
  json["remark"] = trial.remark;
  return json;
}

}  // namespace

std::string lens_json(const LensFit& fit, const LensFitOptions& options, const LensFileNotes& notes) {
  Json json;
  json["schema"] = kLensForm.schema;
  json["image_size_px"] = {fit.lens.width_px, fit.lens.height_px};
  json["model"] = to_string(fit.lens.model);
  const std::vector<std::string> names = parameter_names(fit.lens.model);
  for (std::size_t i = 0; i < names.size(); ++i) {
    json["parameters"][names[i]] = fit.lens.parameters[static_cast<Eigen::Index>(i)];
  }
  json["covariance"] = json_rows(0.5 * (fit.covariance + fit.covariance.transpose()));
  json["rms_px"] = fit.rms_px;
  json["sigma0_px"] = fit.sigma0_px;
  json["noise_px"] = fit.noise_px;
  json["together_px"] = fit.together_px;
  json["independent_corners"] = rounded(fit.independent_corners, 0.1);
  json["disagreement"] = rounded(fit.disagreement, 1e-4);
  json["model_error_px"] = fit.model_error_px;
  json["coverage"] = rounded(fit.coverage, 1e-4);
  json["reaches_whole_picture"] = fit.reaches_corners;
  json["corners_used"] = fit.corner_count;
  json["corners_left_out"] = fit.outlier_count;
  json["board"] = {{"squares", {notes.board.columns, notes.board.rows}}, {"square_mm", notes.board.square_mm}};
  if (fit.board_shape) {
    json["board_shape"] = {{"stretch", fit.board_shape->stretch},
                           {"bow_x_mm", fit.board_shape->bow_x_mm},
                           {"bow_y_mm", fit.board_shape->bow_y_mm},
                           {"sigma", json_of(VectorXd(fit.board_shape->sigma))},
                           {"covariance", json_rows(fit.board_shape->covariance)},
                           {"with_lens", json_rows(fit.board_shape->with_lens)}};
  }
  json["options"] = {{"model", options.model ? to_string(*options.model) : "chosen"},
                     {"fit_board_shape", options.fit_board_shape},
                     {"judge_board_shape", options.judge_board_shape},
                     {"leave_out_corners", options.leave_out_corners},
                     {"fixed_parameters", options.fixed_parameters}};
  json["comparison"] = Json::array();
  for (const ModelTrial& trial : fit.trials) json["comparison"].push_back(trial_json(trial));
  json["notes"] = fit.notes;
  json["photos"] = Json::array();
  for (const PhotoFit& photo : fit.photos) json["photos"].push_back(photo_json(photo, notes.board));
  if (notes.orientation != 0) json["orientation"] = notes.orientation;
  if (notes.focal_mm) json["focal_mm"] = rounded(*notes.focal_mm, 1e-4);
  json["created"] = notes.created;
  json["software"] = notes.software;
  return json_text(json);
}

namespace {

BoardShapeFit read_board_shape(const JsonField& field, Eigen::Index lens_count) {
  BoardShapeFit shape;
  shape.stretch = field["stretch"].number();
  shape.bow_x_mm = field["bow_x_mm"].number();
  shape.bow_y_mm = field["bow_y_mm"].number();
  // a sheet that is not nearly flat and square is no board
  if (std::abs(shape.stretch) > 0.2) field["stretch"].fail("must lie within 0.2");
  if (std::abs(shape.bow_x_mm) > 100.0 || std::abs(shape.bow_y_mm) > 100.0)
    field.fail("must be bowed by 100 mm at most");
  shape.covariance = field["covariance"].covariance(3);
  shape.sigma = shape.covariance.diagonal().cwiseSqrt();
  shape.with_lens = field["with_lens"].matrix(3, lens_count);
  return shape;
}

std::vector<ModelHeldOut> read_comparison(const JsonField& field) {
  std::vector<ModelHeldOut> list;
  for (std::size_t i = 0; i < field.size(); ++i) {
    const JsonField trial = field[i];
    const std::optional<LensModel> model = lens_model_from_string(trial["model"].text());
    if (!model) trial["model"].fail("must be one of radial2, radial5, rational8, equidistant4");
    if (trial.has("held_out_px")) list.push_back({*model, trial["held_out_px"].not_negative()});
  }
  return list;
}

}  // namespace

namespace {

int read_orientation(const JsonField& field) {
  const int orientation = field.positive_integer();
  if (orientation > 8) field.fail("must be 1 to 8, as an orientation tag");
  return orientation;
}

}  // namespace

LensRecord read_lens_fields(const JsonField& root) {
  LensRecord record;
  const JsonField size = root["image_size_px"];
  if (size.size() != 2) size.fail("must hold width and height");
  const int width_px = size[0].positive_integer();
  const int height_px = size[1].positive_integer();
  const JsonField model_field = root["model"];
  const std::optional<LensModel> model = lens_model_from_string(model_field.text());
  if (!model) model_field.fail("must be one of radial2, radial5, rational8, equidistant4");
  const std::vector<std::string> names = parameter_names(*model);
  const auto count = static_cast<Eigen::Index>(names.size());
  const JsonField parameters = root["parameters"];
  VectorXd values(count);
  for (Eigen::Index i = 0; i < count; ++i) {
    const JsonField parameter = parameters[names[static_cast<std::size_t>(i)]];
    values[i] = i < 2 ? parameter.positive() : parameter.number();
  }
  if (parameters.field_count() != names.size()) parameters.fail("must hold the model's own parameters only");
  Outcome<Lens> lens = try_make_lens(*model, width_px, height_px, values);
  if (!lens) parameters.fail("must be a lens: " + lens.reason());
  record.lens = std::move(lens).value();
  record.covariance = root["covariance"].covariance(count);
  record.rms_px = root["rms_px"].not_negative();
  record.sigma0_px = root["sigma0_px"].not_negative();
  record.noise_px = root["noise_px"].not_negative();
  // files made before corners were known to err together say nothing of it
  if (root.has("together_px")) record.together_px = root["together_px"].not_negative();
  record.model_error_px = root["model_error_px"].not_negative();
  if (root.has("comparison")) record.held_out = read_comparison(root["comparison"]);
  if (root.has("board")) record.board = read_board_field(root["board"]);
  // files made before the sheet's covariance was kept say too little of it to be used
  if (root.has("board_shape") && root["board_shape"].has("with_lens"))
    record.board_shape = read_board_shape(root["board_shape"], count);
  if (root.has("orientation")) record.orientation = read_orientation(root["orientation"]);
  if (root.has("focal_mm")) record.focal_mm = root["focal_mm"].positive();
  if (root.has("created")) record.created = root["created"].text();
  const JsonField photos = root["photos"];
  for (std::size_t i = 0; i < photos.size(); ++i) {
    (void)photos[i]["file"].text();
    const bool used = photos[i]["used"].yes();
    if (used || !photos[i]["rms_px"].is_null()) (void)photos[i]["rms_px"].not_negative();
  }
  record.json = root.dump();
  return record;
}

JsonField check_lens_schema(const JsonField& root) {
  require_schema(root, kLensForm);
  return root;
}

LensRecord read_lens_json(const std::string& text, const std::string& file_name) {
  const JsonFile file(text, file_name, kLensForm);
  return read_lens_fields(file.checked_root());
}

namespace {

LensFitOptions options_of(const JsonField& field) {
  LensFitOptions options;
  const JsonField model = field["model"];
  options.model = lens_model_from_string(model.text());
  if (!options.model && model.text() != "chosen") model.fail("must be a lens model or \"chosen\"");
  const auto flag = [&](const char* name, bool usual) {
    const std::optional<JsonField> found = field.find(name);
    return found ? found->yes() : usual;
  };
  options.fit_board_shape = flag("fit_board_shape", false);
  options.judge_board_shape = flag("judge_board_shape", false);
  options.leave_out_corners = flag("leave_out_corners", true);
  if (field.has("fixed_parameters")) {
    const JsonField names = field["fixed_parameters"];
    for (std::size_t i = 0; i < names.size(); ++i) options.fixed_parameters.push_back(names[i].text());
  }
  return options;
}

LensPhoto photo_of(const JsonField& field, const BoardSpec& board, int width_px, int height_px) {
  LensPhoto photo;
  photo.file = field["file"].text();
  photo.width_px = width_px;
  photo.height_px = height_px;
  photo.corners = Failure{"no corners are kept"};
  if (!field.has("corners_px")) {
    if (field.has("reason")) photo.corners = Failure{field["reason"].text()};
    return photo;
  }
  const JsonField corners = field["corners_px"];
  BoardCorners found;
  found.board = board;
  for (std::size_t i = 0; i < corners.size(); ++i) found.px.emplace_back(corners[i].numbers(2));
  if (field.has("corners_at")) {
    const JsonField places = field["corners_at"];
    if (places.size() != found.px.size()) places.fail("must hold a place for each of the corners");
    for (std::size_t i = 0; i < found.px.size(); ++i) found.places.push_back(read_grid_place(places[i]));
    found.whole = false;
  } else if (static_cast<int>(found.px.size()) != board.corner_count()) {
    corners.fail("must hold " + std::to_string(board.corner_count()) + " corners");
  }
  if (field.has("corners_sigma_px")) {
    const JsonField sigma = field["corners_sigma_px"];
    if (sigma.size() != found.px.size()) sigma.fail("must hold a number for each of the corners");
    for (std::size_t i = 0; i < found.px.size(); ++i) found.sigma_px.push_back(sigma[i].positive());
  }
  photo.corners = std::move(found);
  return photo;
}

}  // namespace

GridPlace read_grid_place(const JsonField& field) {
  constexpr double kFarthest = 200.0;  // twice a board's most squares: a part counts from a corner of its own
  const VectorXd at = field.numbers(2);
  for (const double value : {at[0], at[1]})
    if (value != std::round(value) || std::abs(value) > kFarthest) field.fail("must hold whole numbers of squares");
  return {static_cast<int>(at[0]), static_cast<int>(at[1])};
}

BoardSpec read_board_field(const JsonField& field) {
  const JsonField squares = field["squares"];
  if (squares.size() != 2) squares.fail("must hold columns and rows");
  const BoardSpec board{squares[0].positive_integer(), squares[1].positive_integer(), field["square_mm"].positive()};
  if (board.rows < 3 || board.columns < board.rows || board.columns > 100) {
    squares.fail("must be a board's: 3 to 100, the larger first");
  }
  return board;
}

LensInputs read_lens_inputs(const std::string& text, const std::string& file_name) {
  const JsonFile file(text, file_name, kLensForm);
  const JsonField whole = file.root();
  const JsonField root = check_lens_schema(whole.has("lens") ? whole["lens"] : whole);
  const LensRecord record = read_lens_fields(root);
  LensInputs inputs;
  inputs.board = read_board_field(root["board"]);
  inputs.options = options_of(root["options"]);
  inputs.orientation = record.orientation;
  inputs.focal_mm = record.focal_mm;
  const JsonField photos = root["photos"];
  for (std::size_t i = 0; i < photos.size(); ++i) {
    inputs.photos.push_back(photo_of(photos[i], inputs.board, record.lens.width_px, record.lens.height_px));
  }
  return inputs;
}

LensRecord lens_record(const LensFit& fit, const LensFitOptions& options, const LensFileNotes& notes) {
  return read_lens_json(lens_json(fit, options, notes), "lens");
}

}  // namespace jigtrue
