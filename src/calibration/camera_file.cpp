#include "jigtrue/calibration/camera_file.hpp"

#include "calibration/json_write.hpp"
#include "calibration/lens_json.hpp"

namespace jigtrue {

namespace {

constexpr JsonForm kCameraForm{"a camera file", "jigtrue.camera/1", "make it again with the pose command"};

// X, Y, height on the bed, then where it is seen.
Json points_json(const PoseFit& pose, std::size_t from, std::size_t to) {
  Json points = Json::array();
  for (std::size_t i = from; i < to; ++i) {
    const Vector3d& mm = pose.points_mm[i];
    const Vector2d& px = pose.px[i];
    points.push_back({rounded(mm.x(), 1e-6), rounded(mm.y(), 1e-6), rounded(mm.z(), 1e-6), rounded(px.x(), 1e-4),
                      rounded(px.y(), 1e-4)});
  }
  return points;
}

// Of corners that are not the whole board's in order.
Json places_json(const std::vector<GridPlace>& places) {
  Json list = Json::array();
  for (const GridPlace& place : places) list.push_back({place.column, place.row});
  return list;
}

// parent["points"], with the corners' places where it has them.
BoardCorners read_points(const JsonField& parent, const BoardSpec& board) {
  const JsonField points = parent["points"];
  BoardCorners corners;
  corners.board = board;
  for (std::size_t i = 0; i < points.size(); ++i) corners.px.emplace_back(points[i].numbers(5).tail<2>());
  if (!parent.has("corners_at")) {
    if (static_cast<int>(points.size()) != board.corner_count())
      points.fail("must hold " + std::to_string(board.corner_count()) + " corners");
    return corners;
  }
  const JsonField places = parent["corners_at"];
  if (places.size() != points.size()) places.fail("must hold a place for each of the points");
  for (std::size_t i = 0; i < places.size(); ++i) corners.places.push_back(read_grid_place(places[i]));
  corners.whole = false;
  return corners;
}

Json inputs_json(const CameraFileNotes& notes, const PoseFit& pose) {
  Json json = {{"photo", notes.photo}, {"lens", notes.lens_file}};
  if (notes.board) {
    json["board"] = {{"squares", {notes.board->columns, notes.board->rows}}, {"square_mm", notes.board->square_mm}};
  }
  if (notes.placement) {
    const BoardPlacement& p = *notes.placement;
    json["board_at"] = {{"x_mm", p.x_mm}, {"y_mm", p.y_mm}, {"angle_deg", p.angle_deg}, {"height_mm", p.height_mm}};
    json["board_at_sigma"] = {{"xy_mm", p.xy_sigma_mm},
                              {"angle_deg", p.angle_sigma_deg},
                              {"height_mm", p.height_sigma_mm},
                              {"scale", p.scale_sigma}};
  }
  if (!notes.marks_file.empty()) {
    json["marks"] = notes.marks_file;
    json["mark_place_sigma_mm"] = notes.mark_place_sigma_mm;
    json["mark_sigma_px"] = notes.mark_sigma_px;
    if (!pose.further.empty()) json["board_height_mm"] = notes.board_height_mm;
  }
  std::size_t at = pose.first_count();
  json["points"] = points_json(pose, 0, at);
  if (!pose.places.empty()) json["corners_at"] = places_json(pose.places);
  for (const FoundBoard& board : pose.further) {
    json["further"].push_back({{"photo", board.file},
                               {"found_at",
                                {{"x_mm", rounded(board.x_mm, 1e-6)},
                                 {"y_mm", rounded(board.y_mm, 1e-6)},
                                 {"angle_deg", rounded(board.angle_deg, 1e-6)}}},
                               {"rms_px", rounded(board.rms_px, 1e-6)},
                               {"points", points_json(pose, at, at + board.corners.px.size())}});
    if (!board.corners.places.empty()) json["further"].back()["corners_at"] = places_json(board.corners.places);
    at += board.corners.px.size();
  }
  return json;
}

}  // namespace

std::string camera_json(const PoseFit& pose, const LensRecord& lens, const std::vector<WitnessMark>& witness,
                        const CameraFileNotes& notes, const std::optional<MachineReading>& machine) {
  Json json;
  json["schema"] = kCameraForm.schema;
  json["image_size_px"] = {lens.lens.width_px, lens.lens.height_px};
  json["camera_from_bed"] = json_of(pose.camera.camera_from_bed);
  json["bed_homography"] = json_rows(bed_homography(pose.camera));
  json["rms_px"] = pose.rms_px;
  json["sigma0_px"] = pose.sigma0_px;
  json["witness"] = Json::array();
  for (const WitnessMark& mark : witness) {
    Json item = {{"nominal_mm", {mark.nominal_mm.x(), mark.nominal_mm.y()}},
                 {"px", {mark.px.x(), mark.px.y()}},
                 {"sigma_px", mark.sigma_px}};
    if (const auto bed = bed_point_at(pose.camera, mark.px, 0.0))
      item["bed_mm"] = {rounded(bed->mm.x(), 1e-4), rounded(bed->mm.y(), 1e-4)};
    json["witness"].push_back(std::move(item));
  }
  if (machine) json["machine"] = machine_json(*machine);
  // of the lens's parameters in their order, then rotation vector (rad, left of the rotation), translation (mm)
  json["covariance"] = json_rows(pose.camera.covariance);
  json["notes"] = pose.notes;
  json["inputs"] = inputs_json(notes, pose);
  json["created"] = notes.created;
  json["software"] = notes.software;
  json["lens"] = Json::parse(lens.json);
  return json_text(json);
}

CameraRecord read_camera_json(const std::string& text, const std::string& file_name) {
  const JsonFile file(text, file_name, kCameraForm);
  const JsonField root = file.checked_root();
  CameraRecord record;
  record.lens = read_lens_fields(check_lens_schema(root["lens"]));
  const JsonField size = root["image_size_px"];
  if (size.size() != 2) size.fail("must hold width and height");
  if (size[0].positive_integer() != record.lens.lens.width_px ||
      size[1].positive_integer() != record.lens.lens.height_px) {
    size.fail("must be the lens's own image_size_px");
  }
  Camera& camera = record.camera;
  camera.lens = record.lens.lens;
  camera.camera_from_bed = read_rigid(root["camera_from_bed"]);
  if (!(camera.centre_mm().z() > 0.0)) root["camera_from_bed"].fail("must put the camera above the bed");
  const Eigen::Index n = camera.lens.parameters.size() + 6;
  camera.covariance = root["covariance"].covariance(n);
  const JsonField homography = root["bed_homography"];
  const MatrixXd stated = homography.matrix(3, 3);
  const Matrix3d expected = bed_homography(camera);
  // it says the same thing as camera_from_bed; a file in which the two differ has been edited by half
  if (!((stated - expected).cwiseAbs().maxCoeff() <= 1e-6 * expected.cwiseAbs().maxCoeff())) {
    homography.fail("must agree with camera_from_bed");
  }
  record.rms_px = root["rms_px"].not_negative();
  if (root.has("witness")) {
    const JsonField witness = root["witness"];
    for (std::size_t i = 0; i < witness.size(); ++i) {
      const JsonField mark = witness[i];
      record.witness.push_back({mark["nominal_mm"].numbers(2), mark["px"].numbers(2), mark["sigma_px"].positive()});
    }
  }
  if (root.has("machine")) record.machine = read_machine_reading(root["machine"]);
  if (root.has("created")) record.created = root["created"].text();
  return record;
}

namespace {

void read_further(const JsonField& inputs, const BoardSpec& board, int width_px, int height_px,
                  std::vector<FlatBoardPhoto>& photos) {
  if (!inputs.has("further")) return;
  const JsonField further = inputs["further"];
  for (std::size_t i = 0; i < further.size(); ++i)
    photos.push_back({further[i]["photo"].text(), width_px, height_px, read_points(further[i], board)});
}

}  // namespace

std::optional<MarkInputs> read_mark_inputs(const std::string& text, const std::string& file_name) {
  const JsonFile file(text, file_name, kCameraForm);
  const JsonField root = file.checked_root();
  const JsonField inputs = root["inputs"];
  if (!inputs.has("marks")) return std::nullopt;
  if (!inputs.has("mark_sigma_px")) inputs.fail("must hold mark_sigma_px: this file was made before marks were kept");
  MarkInputs kept;
  kept.photo = inputs["photo"].text();
  kept.marks_file = inputs["marks"].text();
  kept.place_sigma_mm = inputs["mark_place_sigma_mm"].not_negative();
  const JsonField points = inputs["points"];
  const JsonField sigma = inputs["mark_sigma_px"];
  if (sigma.size() != points.size()) sigma.fail("must hold one number for each of the points");
  for (std::size_t i = 0; i < points.size(); ++i) {
    const VectorXd point = points[i].numbers(5);
    kept.marks.push_back({point.head<3>(), point.tail<2>(), sigma[i].positive()});
  }
  if (!inputs.has("further")) return kept;
  kept.board_height_mm = inputs["board_height_mm"].number();
  read_further(inputs, read_board_field(inputs["board"]), root["image_size_px"][0].positive_integer(),
               root["image_size_px"][1].positive_integer(), kept.boards);
  return kept;
}

CameraInputs read_camera_inputs(const std::string& text, const std::string& file_name) {
  const JsonFile file(text, file_name, kCameraForm);
  const JsonField root = file.checked_root();
  const JsonField inputs = root["inputs"];
  if (!inputs.has("board") || !inputs.has("board_at")) inputs.fail("must hold a board: this pose is one of marks");
  CameraInputs kept;
  const int width_px = root["image_size_px"][0].positive_integer();
  const int height_px = root["image_size_px"][1].positive_integer();
  const BoardSpec board = read_board_field(inputs["board"]);
  kept.photos.push_back({inputs["photo"].text(), width_px, height_px, read_points(inputs, board)});
  read_further(inputs, board, width_px, height_px, kept.photos);
  const JsonField at = inputs["board_at"];
  kept.placement.x_mm = at["x_mm"].number();
  kept.placement.y_mm = at["y_mm"].number();
  kept.placement.angle_deg = at["angle_deg"].number();
  kept.placement.height_mm = at["height_mm"].number();
  const JsonField sigma = inputs["board_at_sigma"];
  kept.placement.xy_sigma_mm = sigma["xy_mm"].not_negative();
  kept.placement.angle_sigma_deg = sigma["angle_deg"].not_negative();
  kept.placement.height_sigma_mm = sigma["height_mm"].not_negative();
  kept.placement.scale_sigma = sigma["scale"].not_negative();
  return kept;
}

}  // namespace jigtrue
