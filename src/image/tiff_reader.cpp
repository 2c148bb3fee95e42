#include "image/tiff_reader.hpp"

#include <algorithm>
#include <cstdarg>
#include <cstdint>
#include <cstdio>
#include <cstring>
#include <memory>
#include <tiffio.h>
#include <vector>

#include "image/rgb_planes.hpp"

namespace jigtrue {
namespace {

// The file in memory as libtiff reads it, and the first damage that it met.
struct TiffSource {
  std::span<const unsigned char> bytes;
  std::uint64_t position = 0;
  std::string damage;
};

TiffSource& source_of(void* handle) { return *static_cast<TiffSource*>(handle); }

tmsize_t on_read(thandle_t handle, void* to, tmsize_t count) {
  TiffSource& source = source_of(handle);
  if (count <= 0 || source.position >= source.bytes.size()) return 0;
  const std::size_t got = std::min<std::size_t>(static_cast<std::size_t>(count), source.bytes.size() - source.position);
  std::memcpy(to, source.bytes.data() + source.position, got);
  source.position += got;
  return static_cast<tmsize_t>(got);
}

tmsize_t on_write(thandle_t /*handle*/, void* /*from*/, tmsize_t /*count*/) { return 0; }

toff_t on_seek(thandle_t handle, toff_t offset, int from) {
  TiffSource& source = source_of(handle);
  const std::uint64_t base = from == SEEK_SET ? 0 : from == SEEK_CUR ? source.position : source.bytes.size();
  return source.position = base + offset;
}

// The bytes are lent as they lie. The library only reads them: from a file on disk it would take them out of read-only
// pages.
int on_map(thandle_t handle, void** base, toff_t* size) {
  const TiffSource& source = source_of(handle);
  *base = const_cast<unsigned char*>(source.bytes.data());
  *size = source.bytes.size();
  return 1;
}
void on_unmap(thandle_t /*handle*/, void* /*base*/, toff_t /*size*/) {}

int on_close(thandle_t /*handle*/) { return 0; }
toff_t on_size(thandle_t handle) { return source_of(handle).bytes.size(); }

void note_first(std::string& first, const char* format, va_list arguments) {
  char text[256];
  std::vsnprintf(text, sizeof text, format, arguments);
  if (first.empty()) first = text;
}

// The library would print to stderr otherwise. Returning 1 says that nothing else needs to hear of it.
int on_tiff_error(TIFF* /*tiff*/, void* source, const char* /*module*/, const char* format, va_list arguments) {
  note_first(source_of(source).damage, format, arguments);
  return 1;
}
// Most warnings are about unknown tags and the like. But one that comes from the JPEG decoder inside tells of missing
// data.
int on_warning(TIFF* /*tiff*/, void* source, const char* module, const char* format, va_list arguments) {
  if (module != nullptr && std::strcmp(module, "JPEGLib") == 0) note_first(source_of(source).damage, format, arguments);
  return 1;
}

struct CloseTiff {
  void operator()(TIFF* tiff) const { TIFFClose(tiff); }
};
struct FreeOptions {
  void operator()(TIFFOpenOptions* options) const { TIFFOpenOptionsFree(options); }
};

class TiffDecoder {
 public:
  TiffDecoder(const EncodedPhoto& encoded, const PhotoLimits& limits)
      : encoded_(encoded), source_{encoded.bytes, 0, {}} {
    const std::unique_ptr<TIFFOpenOptions, FreeOptions> options(TIFFOpenOptionsAlloc());
    if (!options) throw std::bad_alloc();
    // a strip or tile of 16-bit RGBA as large as the largest photo
    TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), static_cast<tmsize_t>(limits.max_pixels) * 8 + (1 << 20));
    TIFFOpenOptionsSetErrorHandlerExtR(options.get(), on_tiff_error, &source_);
    TIFFOpenOptionsSetWarningHandlerExtR(options.get(), on_warning, &source_);
    tiff_.reset(TIFFClientOpenExt(encoded.file.c_str(), "r", &source_, on_read, on_write, on_seek, on_close, on_size,
                                  on_map, on_unmap, options.get()));
    if (!tiff_) throw damaged();
  }

  StoredSize read_header(const PhotoLimits& limits) {
    require_whole_picture();
    std::uint32_t width = 0;
    std::uint32_t height = 0;
    std::uint16_t orientation = 1;
    TIFFGetField(tiff_.get(), TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff_.get(), TIFFTAG_IMAGELENGTH, &height);
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_ORIENTATION, &orientation);
    check_size(encoded_.file, width, height, limits);
    return {static_cast<int>(width), static_cast<int>(height), orientation >= 1 && orientation <= 8 ? orientation : 1};
  }

  Photo read_picture(const StoredSize& size, PhotoColour colour) {
    TIFFRGBAImage image = {};
    char why[1024] = "";
    if (TIFFRGBAImageBegin(&image, tiff_.get(), 1, why) == 0) {
      throw input_error(encoded_.file, std::string("is a TIFF of a kind that is not read (") + why + ")",
                        "save it as JPEG");
    }
    const std::unique_ptr<TIFFRGBAImage, decltype(&TIFFRGBAImageEnd)> end(&image, TIFFRGBAImageEnd);
    const bool grey = image.photometric == PHOTOMETRIC_MINISBLACK || image.photometric == PHOTOMETRIC_MINISWHITE;
    image.req_orientation = image.orientation;  // as stored: it is turned later, as all formats are
    RgbPlanes planes(size.width_px, size.height_px, grey ? PhotoColour::luma_only : colour);
    read_bands(image, size, planes);
    Photo photo = planes.take();
    photo.file = encoded_.file;
    return photo;
  }

 private:
  [[nodiscard]] InputError damaged() const {
    return damaged_photo(encoded_.file, source_.damage.empty() ? "it cannot be decoded" : source_.damage);
  }

  // A camera's raw file is a TIFF whose first picture is a small preview.
  void require_whole_picture() const {
    std::uint32_t kind = 0;
    TIFFGetFieldDefaulted(tiff_.get(), TIFFTAG_SUBFILETYPE, &kind);
    if ((kind & FILETYPE_REDUCEDIMAGE) != 0) {
      throw input_error(encoded_.file, "its first picture is a preview, as in a camera's raw file", "save it as JPEG");
    }
  }

  // Even, so that the pairs of rows that share chroma never lie in two bands.
  [[nodiscard]] int band_rows(int height_px) const {
    std::uint32_t rows = 0;
    TIFFGetFieldDefaulted(tiff_.get(), TIFFIsTiled(tiff_.get()) != 0 ? TIFFTAG_TILELENGTH : TIFFTAG_ROWSPERSTRIP,
                          &rows);
    const auto whole = static_cast<std::uint32_t>(height_px);
    if (rows == 0 || rows >= whole) return height_px;
    return static_cast<int>(std::min(whole, rows % 2 == 0 ? rows : 2 * rows));
  }

  void read_bands(TIFFRGBAImage& image, const StoredSize& size, RgbPlanes& planes) {
    const auto width = static_cast<std::size_t>(size.width_px);
    const int band = band_rows(size.height_px);
    std::vector<std::uint32_t> packed(width * static_cast<std::size_t>(band));
    std::vector<unsigned char> pair(width * 6);
    for (int top = 0; top < size.height_px; top += band) {
      const int rows = std::min(band, size.height_px - top);
      image.row_offset = top;
      if (TIFFRGBAImageGet(&image, packed.data(), image.width, static_cast<std::uint32_t>(rows)) == 0) throw damaged();
      if (!source_.damage.empty()) throw damaged();
      for (int y = 0; y < rows; y += 2) {
        for (std::size_t x = 0; x < 2 * width && static_cast<std::size_t>(y) * width + x < packed.size(); ++x) {
          const std::uint32_t pixel = packed[static_cast<std::size_t>(y) * width + x];
          pair[3 * x] = static_cast<unsigned char>(TIFFGetR(pixel));
          pair[3 * x + 1] = static_cast<unsigned char>(TIFFGetG(pixel));
          pair[3 * x + 2] = static_cast<unsigned char>(TIFFGetB(pixel));
        }
        planes.store_pair(top + y, pair.data(), pair.data() + 3 * width);
      }
    }
  }

  const EncodedPhoto& encoded_;
  TiffSource source_;
  std::unique_ptr<TIFF, CloseTiff> tiff_;
};

}  // namespace

StoredPhoto read_tiff(const EncodedPhoto& encoded, PhotoColour colour, const PhotoLimits& limits) {
  TiffDecoder decoder(encoded, limits);
  const StoredSize size = decoder.read_header(limits);
  return {decoder.read_picture(size, colour), size.orientation};
}

StoredSize read_tiff_size(const EncodedPhoto& encoded, const PhotoLimits& limits) {
  return TiffDecoder(encoded, limits).read_header(limits);
}

}  // namespace jigtrue
