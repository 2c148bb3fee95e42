// Writes photos of every kind that the reader must take, from one RGB picture (as OpenCV's three channels: red first).
#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <string>
#include <vector>

#include <opencv2/core.hpp>

// These need <cstdio> and <cstddef> before them.
#include <jpeglib.h>
#include <png.h>
#include <tiffio.h>

namespace jigtrue::test {

inline void put_bytes(const std::filesystem::path& file, const std::string& bytes) {
  std::ofstream(file, std::ios::binary) << bytes;
}

inline std::string number_bytes(std::uint32_t value, int count, bool big_endian) {
  std::string bytes;
  for (int i = 0; i < count; ++i) {
    const int shift = 8 * (big_endian ? count - 1 - i : i);
    bytes.push_back(static_cast<char>(value >> shift & 0xFF));
  }
  return bytes;
}

// An EXIF block with the camera's orientation between two other tags.
inline std::string exif_block(std::uint32_t orientation, bool big_endian) {
  const auto number = [&](std::uint32_t value, int count) { return number_bytes(value, count, big_endian); };
  const auto entry = [&](std::uint32_t tag, std::uint32_t value) {
    return number(tag, 2) + number(3, 2) + number(1, 4) + number(value, 2) + number(0, 2);
  };
  return std::string(big_endian ? "MM" : "II") + number(42, 2) + number(8, 4) + number(3, 2) + entry(259, 6) +
         entry(274, orientation) + entry(296, 2) + number(0, 4);
}

struct JpegKind {
  int luma_across = 2;  // sampling factors of luma, those of chroma being 1: 2 x 2 is 4:2:0
  int luma_down = 2;
  int quality = 95;
  bool progressive = false;
  J_COLOR_SPACE colour = JCS_YCbCr;
  std::string exif;
};

inline std::string jpeg_bytes(const cv::Mat3b& rgb, const JpegKind& kind = {}) {
  jpeg_compress_struct info = {};
  jpeg_error_mgr errors = {};
  info.err = jpeg_std_error(&errors);
  jpeg_create_compress(&info);
  unsigned char* bytes = nullptr;
  unsigned long size = 0;
  jpeg_mem_dest(&info, &bytes, &size);
  const bool print = kind.colour == JCS_CMYK;
  info.image_width = static_cast<JDIMENSION>(rgb.cols);
  info.image_height = static_cast<JDIMENSION>(rgb.rows);
  info.input_components = print ? 4 : 3;
  info.in_color_space = print ? JCS_CMYK : JCS_RGB;
  jpeg_set_defaults(&info);
  jpeg_set_colorspace(&info, kind.colour);
  jpeg_set_quality(&info, kind.quality, TRUE);
  if (kind.colour == JCS_YCbCr) {
    info.comp_info[0].h_samp_factor = kind.luma_across;
    info.comp_info[0].v_samp_factor = kind.luma_down;
  }
  if (kind.progressive) jpeg_simple_progression(&info);
  jpeg_start_compress(&info, TRUE);
  if (!kind.exif.empty()) {
    const std::string marker = std::string("Exif\0\0", 6) + kind.exif;
    jpeg_write_marker(&info, JPEG_APP0 + 1, reinterpret_cast<const JOCTET*>(marker.data()),
                      static_cast<unsigned>(marker.size()));
  }
  std::vector<unsigned char> row(static_cast<std::size_t>(rgb.cols) * 4);
  while (info.next_scanline < info.image_height) {
    std::memcpy(row.data(), rgb.ptr(static_cast<int>(info.next_scanline)), static_cast<std::size_t>(rgb.cols) * 3);
    JSAMPROW rows[] = {row.data()};
    jpeg_write_scanlines(&info, rows, 1);
  }
  jpeg_finish_compress(&info);
  jpeg_destroy_compress(&info);
  std::string result(bytes, bytes + size);
  std::free(bytes);
  return result;
}

struct PngKind {
  int colour = PNG_COLOR_TYPE_RGB;  // grey kinds take the red channel; an alpha channel is half transparent
  int bits = 8;
  bool interlaced = false;
  std::string exif;
  bool exif_behind = false;  // after the picture
};

inline void append_png(png_structp png, png_bytep from, std::size_t count) {
  static_cast<std::string*>(png_get_io_ptr(png))->append(reinterpret_cast<const char*>(from), count);
}

inline std::string png_row(const cv::Mat3b& rgb, int y, const PngKind& kind) {
  const bool grey = (kind.colour & PNG_COLOR_MASK_COLOR) == 0;
  std::string row;
  const auto push = [&](unsigned char level) { row.append(kind.bits == 16 ? 2 : 1, static_cast<char>(level)); };
  for (int x = 0; x < rgb.cols; ++x) {
    for (int channel = 0; channel < (grey ? 1 : 3); ++channel) push(rgb(y, x)[channel]);
    if ((kind.colour & PNG_COLOR_MASK_ALPHA) != 0) push(128);
  }
  return row;
}

inline std::string png_bytes(const cv::Mat3b& rgb, const PngKind& kind = {}) {
  std::string bytes;
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  png_set_write_fn(png, &bytes, append_png, [](png_structp) {});
  png_set_IHDR(png, info, static_cast<png_uint_32>(rgb.cols), static_cast<png_uint_32>(rgb.rows), kind.bits,
               kind.colour, kind.interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT,
               PNG_FILTER_TYPE_DEFAULT);
  const auto write_exif = [&] {
    std::string block = kind.exif;
    png_write_chunk(png, reinterpret_cast<png_const_bytep>("eXIf"), reinterpret_cast<png_bytep>(block.data()),
                    block.size());
  };
  png_write_info(png, info);
  if (!kind.exif.empty() && !kind.exif_behind) write_exif();
  const int passes = png_set_interlace_handling(png);
  for (int pass = 0; pass < passes; ++pass) {
    for (int y = 0; y < rgb.rows; ++y) {
      std::string row = png_row(rgb, y, kind);
      png_write_row(png, reinterpret_cast<png_bytep>(row.data()));
    }
  }
  if (!kind.exif.empty() && kind.exif_behind) write_exif();
  png_write_end(png, nullptr);
  png_destroy_write_struct(&png, &info);
  return bytes;
}

struct TiffKind {
  int compression = COMPRESSION_NONE;
  int photometric = PHOTOMETRIC_RGB;  // or MINISBLACK: the red channel
  int bits = 8;
  int rows_per_strip = 7;
  bool tiled = false;  // 16 x 32
  bool big_endian = false;
  int orientation = 0;  // 0: no tag
  bool preview = false;
};

inline std::string tiff_samples(const cv::Mat3b& rgb, cv::Rect part, const TiffKind& kind) {
  const int channels = kind.photometric == PHOTOMETRIC_RGB ? 3 : 1;
  std::string samples;
  for (int y = part.y; y < part.y + part.height; ++y) {
    for (int x = part.x; x < part.x + part.width; ++x) {
      const bool inside = y < rgb.rows && x < rgb.cols;
      for (int channel = 0; channel < channels; ++channel) {
        samples.append(kind.bits / 8, static_cast<char>(inside ? rgb(y, x)[channel] : 0));
      }
    }
  }
  return samples;
}

inline void write_tiff(const std::filesystem::path& file, const cv::Mat3b& rgb, const TiffKind& kind = {}) {
  TIFF* tiff = TIFFOpen(file.c_str(), kind.big_endian ? "wb" : "wl");
  if (tiff == nullptr) throw std::runtime_error("no TIFF for the test");
  TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, rgb.cols);
  TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, rgb.rows);
  TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, kind.bits);
  TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, kind.photometric == PHOTOMETRIC_RGB ? 3 : 1);
  TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, kind.photometric);
  TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
  TIFFSetField(tiff, TIFFTAG_COMPRESSION, kind.compression);
  if (kind.orientation != 0) TIFFSetField(tiff, TIFFTAG_ORIENTATION, kind.orientation);
  if (kind.preview) TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, FILETYPE_REDUCEDIMAGE);
  if (kind.tiled) {
    constexpr int width = 16;
    constexpr int height = 32;
    TIFFSetField(tiff, TIFFTAG_TILEWIDTH, width);
    TIFFSetField(tiff, TIFFTAG_TILELENGTH, height);
    std::uint32_t tile = 0;
    for (int y = 0; y < rgb.rows; y += height) {
      for (int x = 0; x < rgb.cols; x += width) {
        std::string samples = tiff_samples(rgb, {x, y, width, height}, kind);
        TIFFWriteEncodedTile(tiff, tile++, samples.data(), static_cast<tmsize_t>(samples.size()));
      }
    }
  } else {
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, kind.rows_per_strip);
    std::uint32_t strip = 0;
    for (int y = 0; y < rgb.rows; y += kind.rows_per_strip) {
      std::string samples = tiff_samples(rgb, {0, y, rgb.cols, std::min(kind.rows_per_strip, rgb.rows - y)}, kind);
      TIFFWriteEncodedStrip(tiff, strip++, samples.data(), static_cast<tmsize_t>(samples.size()));
    }
  }
  TIFFClose(tiff);
}

// No symmetry, many colours, black and white among them.
inline cv::Mat3b test_picture(int width, int height) {
  cv::Mat3b rgb(height, width);
  for (int y = 0; y < height; ++y) {
    for (int x = 0; x < width; ++x) {
      const int red = 255 * x / (width - 1);
      const int green = 255 * y / (height - 1);
      const int blue = (x * 7 + y * 13 + x * y / 5) % 256;
      rgb(y, x) = cv::Vec3b(static_cast<unsigned char>(red), static_cast<unsigned char>(green),
                            static_cast<unsigned char>(x < width / 4 && y < height / 3 ? green : blue));
    }
  }
  rgb(0, 0) = cv::Vec3b(255, 255, 255);
  rgb(height - 1, width - 1) = cv::Vec3b(0, 0, 0);
  return rgb;
}

}  // namespace jigtrue::test
