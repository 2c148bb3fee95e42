#include "jigtrue/calibration/turned_photos.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>

#include "calibration/board_pose.hpp"

namespace jigtrue {

namespace {

constexpr std::array<PhotoTurn, 4> kTurns = {PhotoTurn::none, PhotoTurn::quarter, PhotoTurn::half,
                                             PhotoTurn::three_quarters};
// Turned, the corners must lie less than this share of the distance that they lie off as the photo is.
constexpr double kClearlyBetter = 0.6;
// Photos whose corners lie less than so many times as far off as usual are let be.
constexpr double kUsual = 2.0;

bool sides_exchanged(PhotoTurn turn) { return turn == PhotoTurn::quarter || turn == PhotoTurn::three_quarters; }

double rms_through(const Lens& lens, const BoardCorners& corners) {
  std::vector<SeenPoint> points = board_points(corners);
  for (SeenPoint& point : points) point.sigma_px = 1.0;
  const Outcome<BestPose> found = best_pose(lens, points, 1e-6);
  return found ? found->best.rms_px : std::numeric_limits<double>::infinity();
}

struct BestTurn {
  PhotoTurn turn = PhotoTurn::none;
  double rms_px = std::numeric_limits<double>::infinity();
  double as_it_is_px = std::numeric_limits<double>::infinity();
};

BestTurn best_turn(const Lens& lens, const BoardCorners& corners, int width_px, int height_px) {
  BestTurn best;
  for (const PhotoTurn turn : kTurns) {
    const bool exchanged = sides_exchanged(turn);
    if ((exchanged ? height_px : width_px) != lens.width_px || (exchanged ? width_px : height_px) != lens.height_px)
      continue;
    BoardCorners other = corners;
    jigtrue::turn(other, width_px, height_px, turn);
    const double rms = rms_through(lens, other);
    if (turn == PhotoTurn::none) best.as_it_is_px = rms;
    if (rms < best.rms_px) {
      best.rms_px = rms;
      best.turn = turn;
    }
  }
  if (!(best.rms_px < kClearlyBetter * best.as_it_is_px)) {
    best.turn = PhotoTurn::none;
    best.rms_px = best.as_it_is_px;
  }
  return best;
}

void turn_photo(LensPhoto& photo, PhotoTurn by) {
  if (photo.corners) turn(*photo.corners, photo.width_px, photo.height_px, by);
  if (sides_exchanged(by)) std::swap(photo.width_px, photo.height_px);
}

}  // namespace

PhotoTop turned(PhotoTop top, PhotoTurn turn) {
  // counter-clockwise from above, as the photo shows the bed: what was at the left comes to the top by a quarter turn
  constexpr std::array<PhotoTop, 4> kAround = {PhotoTop::back, PhotoTop::left, PhotoTop::front, PhotoTop::right};
  const auto at = static_cast<std::size_t>(std::find(kAround.begin(), kAround.end(), top) - kAround.begin());
  return kAround[(at + static_cast<std::size_t>(turn)) % kAround.size()];
}

void turn(BoardCorners& corners, int width_px, int height_px, PhotoTurn by) {
  for (Vector2d& px : corners.px) px = turned(px, width_px, height_px, by);
}

std::string turn_note(const std::string& file, PhotoTurn turn, const std::string& why) {
  return file + " was turned by " + to_string(turn) + " to lie as the others do: " + why + ".";
}

AlikePhotos turn_alike(std::vector<LensPhoto>& photos) {
  using Kind = std::tuple<int, int, int>;  // width, height, tag
  std::map<Kind, int> counts;
  const LensPhoto* usual = nullptr;
  const auto kind = [](const LensPhoto& photo) { return Kind(photo.width_px, photo.height_px, photo.orientation); };
  for (const LensPhoto& photo : photos)
    if (photo.corners) ++counts[kind(photo)];
  for (const LensPhoto& photo : photos)
    if (photo.corners && (usual == nullptr || counts[kind(photo)] > counts[kind(*usual)])) usual = &photo;
  if (usual == nullptr) return {};
  const auto [width_px, height_px, orientation] = kind(*usual);
  AlikePhotos alike{{}, orientation};
  for (LensPhoto& photo : photos) {
    const PhotoTurn by = turn_between(photo.orientation, orientation);
    if (!photo.corners || by == PhotoTurn::none) continue;
    const bool exchanged = sides_exchanged(by);
    if ((exchanged ? photo.height_px : photo.width_px) != width_px ||
        (exchanged ? photo.width_px : photo.height_px) != height_px)
      continue;
    turn_photo(photo, by);
    photo.orientation = orientation;
    alike.notes.push_back(turn_note(photo.file, by, "its orientation tag says otherwise, but the lens was not turned"));
  }
  return alike;
}

std::vector<std::string> turn_odd_ones(std::vector<LensPhoto>& photos, const LensFit& fit) {
  std::vector<std::string> notes;
  for (std::size_t i = 0; i < photos.size() && i < fit.photos.size(); ++i) {
    LensPhoto& photo = photos[i];
    if (!photo.corners || (fit.photos[i].used && fit.photos[i].rms_px < kUsual * fit.rms_px)) continue;
    const BestTurn best = best_turn(fit.lens, *photo.corners, photo.width_px, photo.height_px);
    if (best.turn == PhotoTurn::none || best.rms_px > std::max(kUsual * fit.rms_px, 0.3)) continue;
    turn_photo(photo, best.turn);
    notes.push_back(turn_note(photo.file, best.turn, "so its board fits the lens, as it is it does not"));
  }
  return notes;
}

std::optional<PhotoTurn> turn_to_fit(const LensRecord& lens, const BoardCorners& corners, int width_px, int height_px) {
  const BestTurn best = best_turn(lens.lens, corners, width_px, height_px);
  const bool fits = width_px == lens.lens.width_px && height_px == lens.lens.height_px;
  if (fits) return best.turn;
  if (!std::isfinite(best.rms_px)) return std::nullopt;
  return best.turn;
}

}  // namespace jigtrue
