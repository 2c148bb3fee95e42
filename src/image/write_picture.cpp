#include "jigtrue/image/write_picture.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <csetjmp>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <new>
#include <stdexcept>

#include "image/large_pages.hpp"
#include "image/plane_shrinker.hpp"
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

// These need <cstdio> and <cstddef> before them.
#include <jpeglib.h>
#include <png.h>

namespace jigtrue {
namespace {

void require_picture(const cv::Mat3b& bgr) {
  if (bgr.empty()) throw std::logic_error("an empty picture cannot be encoded");
}

// What an error in libjpeg leaves behind. The jump passes only over C code and over encode(), which holds no
// destructor.
struct JpegOutput {
  jpeg_error_mgr manager = {};  // first, so that the library's pointer to it is a pointer to this
  std::jmp_buf jump = {};
  std::array<char, JMSG_LENGTH_MAX> message = {};
  jpeg_compress_struct info = {};
  unsigned char* bytes = nullptr;
  unsigned long size = 0;

  JpegOutput() {
    info.err = jpeg_std_error(&manager);
    manager.error_exit = [](j_common_ptr common) {
      auto* output = reinterpret_cast<JpegOutput*>(common->err);
      common->err->format_message(common, output->message.data());
      std::longjmp(output->jump, 1);
    };
    manager.emit_message = [](j_common_ptr, int) {};
  }
  JpegOutput(const JpegOutput&) = delete;
  JpegOutput& operator=(const JpegOutput&) = delete;
  ~JpegOutput() {
    jpeg_destroy_compress(&info);
    std::free(bytes);  // NOLINT(cppcoreguidelines-no-malloc): the library allocates it so
  }
};

bool encode(JpegOutput& output, const cv::Mat3b& bgr, int quality) {
  if (setjmp(output.jump) != 0) return false;
  jpeg_create_compress(&output.info);
  jpeg_mem_dest(&output.info, &output.bytes, &output.size);
  output.info.image_width = static_cast<JDIMENSION>(bgr.cols);
  output.info.image_height = static_cast<JDIMENSION>(bgr.rows);
  output.info.input_components = 3;
  output.info.in_color_space = JCS_EXT_BGR;
  jpeg_set_defaults(&output.info);
  jpeg_set_quality(&output.info, quality, TRUE);
  jpeg_start_compress(&output.info, TRUE);
  while (output.info.next_scanline < output.info.image_height) {
    const unsigned char* row = bgr.data + output.info.next_scanline * bgr.step;
    JSAMPROW rows[] = {const_cast<JSAMPROW>(row)};  // the library only reads it
    jpeg_write_scanlines(&output.info, rows, 1);
  }
  jpeg_finish_compress(&output.info);
  return true;
}

struct PngOutput {
  png_structp png = nullptr;
  png_infop info = nullptr;
  std::jmp_buf jump = {};
  std::array<char, 256> message = {};
  std::string bytes;

  PngOutput() {
    png = png_create_write_struct(PNG_LIBPNG_VER_STRING, this, on_error, [](png_structp, png_const_charp) {});
    info = png == nullptr ? nullptr : png_create_info_struct(png);
    if (info == nullptr) {
      png_destroy_write_struct(&png, nullptr);
      throw std::bad_alloc();
    }
  }
  PngOutput(const PngOutput&) = delete;
  PngOutput& operator=(const PngOutput&) = delete;
  ~PngOutput() { png_destroy_write_struct(&png, &info); }

  [[noreturn]] static void on_error(png_structp png, png_const_charp text) {
    auto* output = static_cast<PngOutput*>(png_get_error_ptr(png));
    std::snprintf(output->message.data(), output->message.size(), "%s", text);
    std::longjmp(output->jump, 1);
  }
  static void on_write(png_structp png, png_bytep from, std::size_t count) {
    if (!static_cast<PngOutput*>(png_get_io_ptr(png))->append(from, count)) png_error(png, "not enough memory");
  }
  // An exception must not run through the library's C code.
  bool append(const unsigned char* from, std::size_t count) noexcept {
    try {
      bytes.append(reinterpret_cast<const char*>(from), count);
      return true;
    } catch (const std::exception&) {
      return false;
    }
  }
};

bool encode(PngOutput& output, const cv::Mat3b& bgr) {
  if (setjmp(output.jump) != 0) return false;
  png_set_write_fn(output.png, &output, PngOutput::on_write, [](png_structp) {});
  png_set_IHDR(output.png, output.info, static_cast<png_uint_32>(bgr.cols), static_cast<png_uint_32>(bgr.rows), 8,
               PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  // for a photo: a fifth of the time that the usual settings take, and no more bytes
  png_set_filter(output.png, PNG_FILTER_TYPE_BASE, PNG_FILTER_SUB);
  png_set_compression_level(output.png, 2);
  png_write_info(output.png, output.info);
  png_set_bgr(output.png);
  for (int y = 0; y < bgr.rows; ++y) png_write_row(output.png, bgr.data + static_cast<std::size_t>(y) * bgr.step);
  png_write_end(output.png, output.info);
  return true;
}

}  // namespace

ShrunkPicture shrink(const Photo& photo, int max_side_px) {
  if (photo.luma.empty()) throw std::logic_error("an empty photo cannot be shrunk");
  if (max_side_px < 1) throw std::logic_error("a picture of " + std::to_string(max_side_px) + " px cannot be made");
  const int longer = std::max(photo.width_px(), photo.height_px());
  ShrunkPicture picture;
  picture.scale = std::min(1.0, static_cast<double>(max_side_px) / longer);
  const auto side = [&](int px) { return std::max(1, static_cast<int>(std::lround(px * picture.scale))); };
  const cv::Size size(side(photo.width_px()), side(photo.height_px()));
  // one scale for both axes and for all planes: what is drawn on the picture then lies where it should, to the pixel's
  // part (but for the colour of a turned photo of odd size, by its chroma's lead: at most a pixel of the photo)
  const auto shrinker = [&](const cv::Mat1b& plane, const Vector2d& pixels) {
    return PlaneShrinker(plane, size.width, 1.0 / pixels.x() / picture.scale, 1.0 / pixels.y() / picture.scale);
  };
  std::vector<PlaneShrinker> planes = {shrinker(photo.luma, {1.0, 1.0})};
  if (photo.has_colour())
    for (const cv::Mat1b& plane : {photo.cr, photo.cb}) planes.push_back(shrinker(plane, photo.chroma.pixels));
  picture.bgr.create(size);
  wish_for_large_pages(picture.bgr);
  // some rows at a time: no shrunk plane has to be kept whole
  constexpr int kRows = 64;
  cv::parallel_for_(cv::Range(0, (size.height + kRows - 1) / kRows), [&](const cv::Range& pieces) {
    for (int piece = pieces.start; piece < pieces.end; ++piece) {
      const cv::Range rows(piece * kRows, std::min((piece + 1) * kRows, size.height));
      std::vector<cv::Mat> parts;
      parts.reserve(planes.size());
      for (const PlaneShrinker& plane : planes) parts.emplace_back(plane.rows(rows));
      cv::Mat merged;
      cv::merge(parts, merged);
      cv::Mat3b converted = picture.bgr.rowRange(rows);
      cv::cvtColor(merged, converted, photo.has_colour() ? cv::COLOR_YCrCb2BGR : cv::COLOR_GRAY2BGR);
    }
  });
  return picture;
}

std::string encode_jpeg(const cv::Mat3b& bgr, int quality) {
  require_picture(bgr);
  if (quality < 1 || quality > 100)
    throw std::logic_error("JPEG quality " + std::to_string(quality) + " is not 1 to 100");
  JpegOutput output;
  if (!encode(output, bgr, quality)) throw std::runtime_error(std::string("JPEG picture: ") + output.message.data());
  return {output.bytes, output.bytes + output.size};
}

std::string encode_png(const cv::Mat3b& bgr) {
  require_picture(bgr);
  PngOutput output;
  if (!encode(output, bgr)) throw std::runtime_error(std::string("PNG picture: ") + output.message.data());
  return std::move(output.bytes);
}

}  // namespace jigtrue
