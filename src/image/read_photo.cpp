#include "jigtrue/image/read_photo.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/read_file.hpp"

#include <algorithm>
#include <array>
#include <new>
#include <optional>
#include <string_view>
#include <utility>

#include "image/encoded_photo.hpp"
#include "image/jpeg_reader.hpp"
#include "image/png_reader.hpp"
#include "image/tiff_reader.hpp"
#include <opencv2/core.hpp>

namespace jigtrue {
namespace {

using Bytes = std::span<const unsigned char>;

enum class PhotoKind { jpeg, png, tiff };

bool has_at(Bytes bytes, std::size_t offset, std::string_view text) {
  if (bytes.size() < offset + text.size()) return false;
  return std::equal(text.begin(), text.end(), bytes.begin() + static_cast<std::ptrdiff_t>(offset),
                    [](char a, unsigned char b) { return static_cast<unsigned char>(a) == b; });
}

bool is_heic(Bytes bytes) {
  if (!has_at(bytes, 4, "ftyp")) return false;
  constexpr std::array brands = {"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1"};
  return std::any_of(brands.begin(), brands.end(), [&](const char* brand) { return has_at(bytes, 8, brand); });
}

// By the first bytes: the name of a file promises nothing.
PhotoKind kind_of(const std::string& file, Bytes bytes) {
  using namespace std::string_view_literals;
  if (bytes.empty()) throw input_error(file, "is empty", "copy it from the camera again");
  if (has_at(bytes, 0, "\xFF\xD8\xFF"sv)) return PhotoKind::jpeg;
  if (has_at(bytes, 0, "\x89PNG\r\n\x1A\n"sv)) return PhotoKind::png;
  if (has_at(bytes, 0, "II*\0"sv) || has_at(bytes, 0, "MM\0*"sv) || has_at(bytes, 0, "II+\0"sv) ||
      has_at(bytes, 0, "MM\0+"sv)) {
    return PhotoKind::tiff;
  }
  if (is_heic(bytes)) throw input_error(file, "is a HEIC photo, which is not read", "save it as JPEG");
  throw input_error(file, "is not a JPEG, PNG or TIFF photo", "save it as JPEG");
}

// What a clockwise quarter turn and a flip make of the stored picture, EXIF 2.3 section 4.6.4.
void turn_upright(cv::Mat1b& plane, int orientation) {
  if (plane.empty() || orientation == 1) return;
  cv::Mat1b upright;
  switch (orientation) {
    case 2:
      cv::flip(plane, upright, 1);
      break;
    case 3:
      cv::rotate(plane, upright, cv::ROTATE_180);
      break;
    case 4:
      cv::flip(plane, upright, 0);
      break;
    case 5:
      cv::transpose(plane, upright);
      break;
    case 6:
      cv::rotate(plane, upright, cv::ROTATE_90_CLOCKWISE);
      break;
    case 7:
      cv::rotate(plane, plane, cv::ROTATE_180);
      cv::transpose(plane, upright);
      break;
    case 8:
      cv::rotate(plane, upright, cv::ROTATE_90_COUNTERCLOCKWISE);
      break;
    default:
      throw std::logic_error("orientation " + std::to_string(orientation) + " is not one of 1 to 8");
  }
  plane = upright;
}

// The same for where the chroma begins. `trail_px`: what the last column and row cover beyond the right and the bottom.
void turn_upright(ChromaGrid& grid, Vector2d trail_px, int orientation) {
  const auto flip = [&](int axis) { std::swap(grid.lead_px[axis], trail_px[axis]); };
  const auto transpose = [&] {
    for (Vector2d* pair : {&grid.pixels, &grid.lead_px, &trail_px}) std::swap(pair->x(), pair->y());
  };
  if (orientation == 2 || orientation == 3 || orientation == 7) flip(0);
  if (orientation == 3 || orientation == 4 || orientation == 7) flip(1);
  if (orientation >= 5) transpose();
  if (orientation == 6) flip(0);
  if (orientation == 8) flip(1);
}

Photo upright(StoredPhoto stored) {
  Photo& photo = stored.photo;
  if (photo.has_colour()) {
    const Vector2d covered_px = Vector2d(photo.cb.cols, photo.cb.rows).cwiseProduct(photo.chroma.pixels);
    turn_upright(photo.chroma, covered_px - Vector2d(photo.width_px(), photo.height_px()) - photo.chroma.lead_px,
                 stored.orientation);
  }
  turn_upright(stored.photo.luma, stored.orientation);
  turn_upright(stored.photo.cb, stored.orientation);
  turn_upright(stored.photo.cr, stored.orientation);
  photo.orientation = stored.orientation;
  return std::move(stored.photo);
}

// As EXIF numbers the turns, by quarters (CIPA DC-008, 4.6.4).
constexpr std::array kCodes = {1, 6, 3, 8};
int orientation_of(PhotoTurn turn) { return kCodes[static_cast<std::size_t>(turn)]; }
std::optional<int> quarters_of(int orientation) {
  const auto* at = std::find(kCodes.begin(), kCodes.end(), orientation);
  if (at == kCodes.end()) return std::nullopt;
  return static_cast<int>(at - kCodes.begin());
}

StoredPhoto decode(const EncodedPhoto& encoded, PhotoColour colour, const PhotoLimits& limits) {
  switch (kind_of(encoded.file, encoded.bytes)) {
    case PhotoKind::jpeg:
      return read_jpeg(encoded, colour, limits);
    case PhotoKind::png:
      return read_png(encoded, colour, limits);
    case PhotoKind::tiff:
      return read_tiff(encoded, colour, limits);
  }
  throw std::logic_error("unknown kind of photo");
}

StoredSize decode_size(const EncodedPhoto& encoded, const PhotoLimits& limits) {
  switch (kind_of(encoded.file, encoded.bytes)) {
    case PhotoKind::jpeg:
      return read_jpeg_size(encoded, limits);
    case PhotoKind::png:
      return read_png_size(encoded, limits);
    case PhotoKind::tiff:
      return read_tiff_size(encoded, limits);
  }
  throw std::logic_error("unknown kind of photo");
}

FileBytes photo_bytes(const std::filesystem::path& file) {
  constexpr std::size_t max_file_bytes = std::size_t{2} << 30;
  return read_file_bytes(file, max_file_bytes);
}

}  // namespace

Photo read_photo(const EncodedPhoto& encoded, PhotoColour colour, const PhotoLimits& limits) {
  const auto no_memory = [&] {
    return input_error(encoded.file, "does not fit into memory", "close other programs or use a smaller photo");
  };
  try {
    return upright(decode(encoded, colour, limits));
  } catch (const std::bad_alloc&) {
    throw no_memory();
  } catch (const cv::Exception& error) {
    if (error.code == cv::Error::StsNoMem) throw no_memory();
    throw;
  }
}

Photo read_photo(const std::filesystem::path& file, PhotoColour colour, const PhotoLimits& limits) {
  const FileBytes bytes = photo_bytes(file);
  return read_photo(EncodedPhoto{file.string(), bytes.span()}, colour, limits);
}

Photo turned(Photo photo, PhotoTurn turn) {
  const int own = photo.orientation;
  Photo result = upright({std::move(photo), orientation_of(turn)});
  const auto quarters = quarters_of(own);
  result.orientation =
      quarters ? orientation_of(static_cast<PhotoTurn>((*quarters + static_cast<int>(turn)) % 4)) : own;
  return result;
}

Vector2d turned(const Vector2d& px, int width_px, int height_px, PhotoTurn turn) {
  switch (turn) {
    case PhotoTurn::quarter:
      return {height_px - 1.0 - px.y(), px.x()};
    case PhotoTurn::half:
      return {width_px - 1.0 - px.x(), height_px - 1.0 - px.y()};
    case PhotoTurn::three_quarters:
      return {px.y(), width_px - 1.0 - px.x()};
    case PhotoTurn::none:
      break;
  }
  return px;
}

PhotoTurn turn_between(int applied_orientation, int wanted_orientation) {
  const auto own = quarters_of(applied_orientation);
  const auto wanted = quarters_of(wanted_orientation);
  if (!own || !wanted) return PhotoTurn::none;
  return static_cast<PhotoTurn>((*wanted - *own + 4) % 4);
}

const char* to_string(PhotoTurn turn) {
  switch (turn) {
    case PhotoTurn::quarter:
      return "a quarter turn clockwise";
    case PhotoTurn::half:
      return "half a turn";
    case PhotoTurn::three_quarters:
      return "a quarter turn counter-clockwise";
    case PhotoTurn::none:
      break;
  }
  return "";
}

PhotoSize read_photo_size(const std::filesystem::path& file, const PhotoLimits& limits) {
  const FileBytes bytes = photo_bytes(file);
  const StoredSize stored = decode_size({file.string(), bytes.span()}, limits);
  const bool lies_on_its_side = stored.orientation >= 5;
  return lies_on_its_side ? PhotoSize{stored.height_px, stored.width_px} : PhotoSize{stored.width_px, stored.height_px};
}

}  // namespace jigtrue
