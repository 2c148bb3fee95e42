#include "jigtrue/base/error.hpp"
#include "jigtrue/calibration/lens_fit.hpp"

#include <algorithm>
#include <string>
#include <utility>

#include "calibration/choose_lens.hpp"
#include "calibration/format.hpp"
#include "calibration/more_photos.hpp"

namespace jigtrue {

namespace {

// Reasons that need no fit: another size, the same photo twice.
std::string unusable(const LensPhoto& photo, int width_px, int height_px, const std::vector<LensPhoto>& all,
                     std::size_t index) {
  if (!photo.corners) return photo.corners.reason();
  if (photo.width_px != width_px || photo.height_px != height_px) {
    return format("it has %d x %d px, the others %d x %d: one lens file serves one size", photo.width_px,
                  photo.height_px, width_px, height_px);
  }
  for (std::size_t i = 0; i < index; ++i) {
    if (all[i].corners && all[i].corners->px == photo.corners->px) return "it is the same photo as " + all[i].file;
  }
  return {};
}

bool spans_whole_board(const BoardCorners& corners) {
  GridPlace least = corners.place(0);
  GridPlace greatest = least;
  for (std::size_t i = 1; i < corners.px.size(); ++i) {
    const GridPlace place = corners.place(i);
    least = {std::min(least.column, place.column), std::min(least.row, place.row)};
    greatest = {std::max(greatest.column, place.column), std::max(greatest.row, place.row)};
  }
  return least == GridPlace{0, 0} &&
         greatest == GridPlace{corners.board.inner_columns() - 1, corners.board.inner_rows() - 1};
}

// What keeps more photos out than serve: a board of other counts, whichever parts of it pass for the declared one's;
// and what is the same for every photo.
std::string said_by_most(const std::vector<LensPhoto>& photos, std::size_t serving) {
  const auto count = [&](const auto& says) {
    return static_cast<std::size_t>(std::count_if(photos.begin(), photos.end(), [&](const LensPhoto& photo) {
      return !photo.corners && says(photo.corners.failure());
    }));
  };
  const std::size_t others = count([](const Failure& f) { return f.code == FailureCode::another_board; });
  const Failure* most = nullptr;  // of the photos' words, what most of them say; of those alike the last
  std::size_t alike = 0;
  for (const LensPhoto& photo : photos) {
    if (photo.corners) continue;
    const Failure& failure = photo.corners.failure();
    const std::size_t saying = count([&](const Failure& f) { return f.text == failure.text; });
    if (saying == photos.size() && saying > 1) return "every photo: " + failure.text;
    if (failure.code != FailureCode::another_board || saying < alike) continue;
    most = &failure;
    alike = saying;
  }
  if (most == nullptr || others <= std::max<std::size_t>(serving, 1)) return {};
  const std::string of_all = format("%zu of %zu photos", others, photos.size());
  if (alike == others) return of_all + ": " + most->text;
  return of_all + format(" show another board than declared, %zu of them: ", alike) + most->text;
}

// The size that most of the photos with a board have.
std::pair<int, int> common_size(const std::vector<LensPhoto>& photos) {
  std::pair<int, int> best{0, 0};
  std::ptrdiff_t most = 0;
  for (const LensPhoto& photo : photos) {
    if (!photo.corners) continue;
    const auto n = std::count_if(photos.begin(), photos.end(), [&](const LensPhoto& other) {
      return other.corners.ok() && other.width_px == photo.width_px && other.height_px == photo.height_px;
    });
    if (n > most) {
      most = n;
      best = {photo.width_px, photo.height_px};
    }
  }
  return best;
}

}  // namespace

LensFit fit_lens(const std::vector<LensPhoto>& photos, const LensFitOptions& options) {
  const auto [width_px, height_px] = common_size(photos);
  std::vector<LensView> views;
  std::vector<std::string> reasons;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    reasons.push_back(unusable(photos[i], width_px, height_px, photos, i));
    if (!reasons.back().empty()) continue;
    views.push_back({photos[i].file, board_points(*photos[i].corners), spans_whole_board(*photos[i].corners)});
  }
  if (const std::string most = said_by_most(photos, views.size()); !most.empty()) {
    throw input_error("lens", most,
                      "check that --board counts squares, not corners, along both sides, and that the photos show it");
  }
  if (views.size() < kFewestPhotos) {
    std::string listed;
    for (std::size_t i = 0; i < photos.size(); ++i) {
      if (reasons[i].empty()) continue;
      // a photo that cannot be read names itself
      listed += "; " + (reasons[i].starts_with(photos[i].file) ? "" : photos[i].file + ": ") + reasons[i];
    }
    throw input_error("lens", too_few_photos(views.size()) + listed, kMorePhotos);
  }
  LensFit result = fit_lens_to_views(views, width_px, height_px, options);
  std::vector<PhotoFit> in_order;
  std::size_t next = 0;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    if (reasons[i].empty()) {
      in_order.push_back(std::move(result.photos[next++]));
      continue;
    }
    PhotoFit left_out;
    left_out.file = photos[i].file;
    left_out.reason = reasons[i];
    in_order.push_back(std::move(left_out));
  }
  result.photos = std::move(in_order);
  return result;
}

}  // namespace jigtrue
