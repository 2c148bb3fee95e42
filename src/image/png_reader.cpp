#include "image/png_reader.hpp"

#include <algorithm>
#include <array>
#include <csetjmp>
#include <cstdint>
#include <cstdio>
#include <cstring>
#include <png.h>
#include <string_view>
#include <vector>

#include "image/exif_orientation.hpp"
#include "image/rgb_planes.hpp"

namespace jigtrue {
namespace {

using Bytes = std::span<const unsigned char>;

// The EXIF block may stand before or behind the picture (PNG 3, section 5.6), so the chunks are walked apart from it.
Bytes find_chunk(Bytes bytes, std::string_view type) {
  constexpr std::size_t signature_size = 8;
  constexpr std::size_t head_size = 8;
  constexpr std::size_t check_size = 4;
  std::size_t offset = signature_size;
  while (offset <= bytes.size() && bytes.size() - offset >= head_size) {
    const unsigned char* head = bytes.data() + offset;
    const std::size_t length =
        std::size_t{head[0]} << 24 | std::size_t{head[1]} << 16 | std::size_t{head[2]} << 8 | head[3];
    const Bytes rest = bytes.subspan(offset + head_size);
    if (rest.size() < length) break;
    if (std::equal(type.begin(), type.end(), head + 4)) return rest.first(length);
    offset += head_size + length + check_size;
  }
  return {};
}

class PngDecoder {
 public:
  explicit PngDecoder(const EncodedPhoto& encoded) : encoded_(encoded), rest_(encoded.bytes) {
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, this, on_error, on_warning);
    info_ = png_ == nullptr ? nullptr : png_create_info_struct(png_);
    if (info_ == nullptr) {
      png_destroy_read_struct(&png_, nullptr, nullptr);
      throw std::bad_alloc();
    }
  }
  PngDecoder(const PngDecoder&) = delete;
  PngDecoder& operator=(const PngDecoder&) = delete;
  ~PngDecoder() { png_destroy_read_struct(&png_, &info_, nullptr); }

  StoredSize read_header(const PhotoLimits& limits) {
    run([this] {
      png_set_read_fn(png_, this, on_read);
      // what the picture does not need is passed over, neither unpacked nor given the memory that its length claims
      png_set_keep_unknown_chunks(png_, PNG_HANDLE_CHUNK_NEVER, nullptr, -1);
      png_set_user_limits(png_, 0x7FFFFFFF, 0x7FFFFFFF);  // our own limits are told in our own words
      png_read_info(png_, info_);
    });
    const png_uint_32 width = png_get_image_width(png_, info_);
    const png_uint_32 height = png_get_image_height(png_, info_);
    check_size(encoded_.file, static_cast<long>(width), static_cast<long>(height), limits);
    return {static_cast<int>(width), static_cast<int>(height), exif_orientation(find_chunk(encoded_.bytes, "eXIf"))};
  }

  Photo read_picture(const StoredSize& size, PhotoColour colour) {
    run([this] { set_eight_bits_without_alpha(); });
    const bool grey = png_get_channels(png_, info_) == 1;
    Photo photo = grey ? read_grey(size) : read_rgb(size, colour);
    photo.file = encoded_.file;
    return photo;
  }

 private:
  // As in the JPEG reader: an error inside jumps back to here, over anything that `step` holds.
  template <class Step>
  void run(const Step& step) {
    if (!succeeds(step)) throw damaged_photo(encoded_.file, message_.data());
  }
  template <class Step>
  bool succeeds(const Step& step) {
    if (setjmp(jump_) != 0) return false;
    step();
    return true;
  }

  [[noreturn]] static void on_error(png_structp png, png_const_charp message) {
    auto* decoder = static_cast<PngDecoder*>(png_get_error_ptr(png));
    std::snprintf(decoder->message_.data(), decoder->message_.size(), "%s", message);
    std::longjmp(decoder->jump_, 1);
  }
  static void on_warning(png_structp /*png*/, png_const_charp /*message*/) {}
  static void on_read(png_structp png, png_bytep to, std::size_t count) {
    Bytes& rest = static_cast<PngDecoder*>(png_get_io_ptr(png))->rest_;
    if (rest.size() < count) png_error(png, "the file ends too early");
    std::memcpy(to, rest.data(), count);
    rest = rest.subspan(count);
  }

  void set_eight_bits_without_alpha() {
    png_set_expand(png_);
    png_set_scale_16(png_);
    png_set_strip_alpha(png_);
    passes_ = png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
  }

  Photo read_grey(const StoredSize& size) {
    Photo photo;
    photo.luma.create(size.height_px, size.width_px);
    unsigned char* first = photo.luma.data;
    const std::size_t step = photo.luma.step;
    run([this, first, step, rows = size.height_px] { read_whole(first, step, rows); });
    return photo;
  }

  Photo read_rgb(const StoredSize& size, PhotoColour colour) {
    RgbPlanes planes(size.width_px, size.height_px, colour);
    const std::size_t step = std::size_t{3} * static_cast<std::size_t>(size.width_px);
    const bool interlaced = passes_ > 1;
    std::vector<unsigned char> pixels(step * (interlaced ? static_cast<std::size_t>(size.height_px) : 2));
    unsigned char* first = pixels.data();
    if (interlaced) run([this, first, step, rows = size.height_px] { read_whole(first, step, rows); });
    for (int y = 0; y < size.height_px; y += 2) {
      unsigned char* upper = interlaced ? first + static_cast<std::size_t>(y) * step : first;
      if (!interlaced)
        run([this, upper, step, rows = std::min(2, size.height_px - y)] { read_rows(upper, step, rows); });
      planes.store_pair(y, upper, upper + step);
    }
    if (!interlaced) run([this] { png_read_end(png_, nullptr); });
    return planes.take();
  }

  void read_rows(unsigned char* first, std::size_t step, int rows) {
    for (int y = 0; y < rows; ++y) png_read_row(png_, first + static_cast<std::size_t>(y) * step, nullptr);
  }
  void read_whole(unsigned char* first, std::size_t step, int rows) {
    for (int pass = 0; pass < passes_; ++pass) read_rows(first, step, rows);
    png_read_end(png_, nullptr);
  }

  const EncodedPhoto& encoded_;
  Bytes rest_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  int passes_ = 1;
  std::jmp_buf jump_ = {};
  std::array<char, 256> message_ = {};
};

}  // namespace

StoredPhoto read_png(const EncodedPhoto& encoded, PhotoColour colour, const PhotoLimits& limits) {
  PngDecoder decoder(encoded);
  const StoredSize size = decoder.read_header(limits);
  return {decoder.read_picture(size, colour), size.orientation};
}

StoredSize read_png_size(const EncodedPhoto& encoded, const PhotoLimits& limits) {
  return PngDecoder(encoded).read_header(limits);
}

}  // namespace jigtrue
