#include "image/jpeg_reader.hpp"

#include <algorithm>
#include <array>
#include <csetjmp>
#include <cstddef>
#include <cstdio>
#include <string_view>
#include <vector>

#include "image/exif_orientation.hpp"
#include "image/large_pages.hpp"
#include "image/rgb_planes.hpp"

// These two need <cstdio> and <cstddef> before them.
#include <jerror.h>
#include <jpeglib.h>

namespace jigtrue {
namespace {

constexpr int max_planes = 3;
constexpr int max_mcu_rows = MAX_SAMP_FACTOR * DCTSIZE;

struct ErrorTrap {
  jpeg_error_mgr manager;  // first, so that the library's pointer to it is a pointer to this
  std::jmp_buf jump;
  std::array<char, JMSG_LENGTH_MAX> message;
};

[[noreturn]] void on_jpeg_error(j_common_ptr info) {
  auto* trap = reinterpret_cast<ErrorTrap*>(info->err);
  info->err->format_message(info, trap->message.data());
  std::longjmp(trap->jump, 1);
}

// Small cameras pad the picture to a transfer unit: some bytes too many just before the end marker cost no picture
// data.
bool is_padding(const jpeg_error_mgr& error) {
  constexpr int longest_padding = 64;
  constexpr int end_of_image = 0xD9;
  return error.msg_code == JWRN_EXTRANEOUS_DATA && error.msg_parm.i[0] <= longest_padding &&
         error.msg_parm.i[1] == end_of_image;
}

bool is_harmless(const jpeg_error_mgr& error) {
  return is_padding(error) || error.msg_code == JWRN_JFIF_MAJOR || error.msg_code == JWRN_ADOBE_XFORM ||
         error.msg_code == JWRN_TOO_MUCH_DATA;
}

// The library warns and goes on with a grey tail where data is missing; such a photo is refused instead.
void on_message(j_common_ptr info, int level) {
  if (level < 0 && !is_harmless(*info->err)) on_jpeg_error(info);
}

// A progressive file may hold any number of scans, each of which costs a pass over the whole picture: a small hostile
// file could keep the program busy for hours. Real ones have about ten.
void on_progress(j_common_ptr info) {
  constexpr int most_scans = 100;
  if (reinterpret_cast<j_decompress_ptr>(info)->input_scan_number <= most_scans) return;
  auto* trap = reinterpret_cast<ErrorTrap*>(info->err);
  std::snprintf(trap->message.data(), trap->message.size(), "it holds more than %d scans", most_scans);
  std::longjmp(trap->jump, 1);
}

// One plane as the decoder writes it: whole blocks, so rows and columns may stick out over the picture.
struct PlaneMemory {
  unsigned char* data = nullptr;
  std::size_t step = 0;
  int rows_per_mcu = 0;
};

class JpegDecoder {
 public:
  explicit JpegDecoder(const EncodedPhoto& encoded) : encoded_(encoded) {
    info_.err = jpeg_std_error(&trap_.manager);
    trap_.manager.error_exit = on_jpeg_error;
    trap_.manager.emit_message = on_message;
    run([this] { jpeg_create_decompress(&info_); });
    progress_.progress_monitor = on_progress;
    info_.progress = &progress_;
  }
  JpegDecoder(const JpegDecoder&) = delete;
  JpegDecoder& operator=(const JpegDecoder&) = delete;
  ~JpegDecoder() { jpeg_destroy_decompress(&info_); }

  StoredSize read_header(const PhotoLimits& limits) {
    run([this] {
      jpeg_mem_src(&info_, encoded_.bytes.data(), static_cast<unsigned long>(encoded_.bytes.size()));
      jpeg_save_markers(&info_, JPEG_APP0 + 1, 0xFFFF);
      jpeg_read_header(&info_, TRUE);
    });
    check_size(encoded_.file, static_cast<long>(info_.image_width), static_cast<long>(info_.image_height), limits);
    return {static_cast<int>(info_.image_width), static_cast<int>(info_.image_height), facts().orientation};
  }

  Photo read_picture(PhotoColour colour) {
    require_known_colour();
    return stores_usable_planes() ? read_planes(colour) : read_rgb(colour);
  }

  [[nodiscard]] ExifFacts facts() const {
    constexpr std::string_view prefix("Exif\0\0", 6);
    for (const jpeg_marker_struct* marker = info_.marker_list; marker != nullptr; marker = marker->next) {
      const std::span<const unsigned char> bytes(marker->data, marker->data_length);
      if (bytes.size() >= prefix.size() && std::equal(prefix.begin(), prefix.end(), bytes.begin()))
        return exif_facts(bytes.subspan(prefix.size()));
    }
    return {};
  }

 private:
  // Runs library calls; an error inside jumps back to here. `step` and what it calls must hold no object with a
  // destructor, as the jump passes over it.
  template <class Step>
  void run(const Step& step) {
    if (!succeeds(step)) throw damaged_photo(encoded_.file, trap_.message.data());
  }
  template <class Step>
  bool succeeds(const Step& step) {
    if (setjmp(trap_.jump) != 0) return false;
    step();
    return true;
  }

  void require_known_colour() const {
    const J_COLOR_SPACE space = info_.jpeg_color_space;
    if (space != JCS_YCbCr && space != JCS_GRAYSCALE && space != JCS_RGB) {
      throw input_error(encoded_.file, "is a JPEG for print (CMYK) or of another unusual kind",
                        "save it as an RGB JPEG");
    }
  }

  // Luma at full resolution, both chroma planes at one.
  [[nodiscard]] bool stores_usable_planes() const {
    if (info_.jpeg_color_space == JCS_RGB) return false;
    const auto alike = [](const jpeg_component_info& component, int across, int down) {
      return component.h_samp_factor == across && component.v_samp_factor == down;
    };
    if (!alike(info_.comp_info[0], info_.max_h_samp_factor, info_.max_v_samp_factor)) return false;
    return info_.num_components == 1 ||
           alike(info_.comp_info[2], info_.comp_info[1].h_samp_factor, info_.comp_info[1].v_samp_factor);
  }

  // ITU T.81, section A.1.1.
  [[nodiscard]] cv::Size stored_size(const jpeg_component_info& component) const {
    const auto share = [](JDIMENSION length, int factor, int max_factor) {
      return (static_cast<int>(length) * factor + max_factor - 1) / max_factor;
    };
    return {share(info_.image_width, component.h_samp_factor, info_.max_h_samp_factor),
            share(info_.image_height, component.v_samp_factor, info_.max_v_samp_factor)};
  }

  [[nodiscard]] ChromaGrid chroma_grid() const {
    const jpeg_component_info& chroma = info_.comp_info[1];
    ChromaGrid grid;
    grid.pixels = {static_cast<double>(info_.max_h_samp_factor) / chroma.h_samp_factor,
                   static_cast<double>(info_.max_v_samp_factor) / chroma.v_samp_factor};
    return grid;
  }

  [[nodiscard]] cv::Mat1b whole_blocks(const jpeg_component_info& component) const {
    const int mcu_width = DCTSIZE * info_.max_h_samp_factor;
    const int mcu_height = DCTSIZE * info_.max_v_samp_factor;
    const int across = (static_cast<int>(info_.image_width) + mcu_width - 1) / mcu_width;
    const int down = (static_cast<int>(info_.image_height) + mcu_height - 1) / mcu_height;
    cv::Mat1b plane(down * DCTSIZE * component.v_samp_factor, across * DCTSIZE * component.h_samp_factor);
    wish_for_large_pages(plane);
    return plane;
  }

  // The decoder writes straight into the planes of the photo.
  Photo read_planes(PhotoColour colour) {
    const bool grey = colour == PhotoColour::luma_only || info_.num_components == 1;
    const int count = grey ? 1 : max_planes;
    std::array<cv::Mat1b, max_planes> planes;
    std::array<PlaneMemory, max_planes> memory;
    std::array<cv::Size, max_planes> sizes;
    for (int i = 0; i < count; ++i) {
      planes[i] = whole_blocks(info_.comp_info[i]);
      sizes[i] = stored_size(info_.comp_info[i]);
      memory[i] = {planes[i].data, planes[i].step, info_.comp_info[i].v_samp_factor * DCTSIZE};
    }
    const ChromaGrid grid = grey ? ChromaGrid{} : chroma_grid();
    run([this, count, &memory] { decode_planes(count, memory); });
    // by now the library has let go of its components
    for (int i = 0; i < count; ++i) crop(planes[i], sizes[i]);
    return {encoded_.file, planes[0], planes[1], planes[2], grid};
  }

  void decode_planes(int count, const std::array<PlaneMemory, max_planes>& memory) {
    for (int i = count; i < info_.num_components; ++i) info_.comp_info[i].component_needed = FALSE;
    info_.raw_data_out = TRUE;
    info_.do_block_smoothing = FALSE;
    jpeg_start_decompress(&info_);
    const JDIMENSION lines = static_cast<JDIMENSION>(info_.max_v_samp_factor) * DCTSIZE;
    std::array<std::array<JSAMPROW, max_mcu_rows>, max_planes> rows = {};
    std::array<JSAMPARRAY, max_planes> pointers = {rows[0].data(), rows[1].data(), rows[2].data()};
    while (info_.output_scanline < info_.output_height) {
      const std::size_t mcu_row = info_.output_scanline / lines;
      for (int i = 0; i < count; ++i) {
        for (int row = 0; row < memory[i].rows_per_mcu; ++row) {
          rows[i][row] = memory[i].data + (mcu_row * memory[i].rows_per_mcu + row) * memory[i].step;
        }
      }
      jpeg_read_raw_data(&info_, pointers.data(), lines);
    }
    jpeg_finish_decompress(&info_);
  }

  // Takes the surplus of the last blocks off, and makes the plane a picture of its own: OpenCV's filters look past the
  // edge of a part of a picture, and would find the surplus there.
  static void crop(cv::Mat1b& plane, cv::Size size) {
    plane = plane(cv::Rect({0, 0}, size));
    plane.flags &= ~cv::Mat::SUBMATRIX_FLAG;
    plane.dataend = plane.data + static_cast<std::size_t>(plane.rows - 1) * plane.step + plane.cols;
    plane.datalimit = plane.dataend;
  }

  // Files whose planes are red, green and blue, or whose luma is the coarser one.
  Photo read_rgb(PhotoColour colour) {
    RgbPlanes planes(static_cast<int>(info_.image_width), static_cast<int>(info_.image_height), colour);
    std::vector<unsigned char> pair(std::size_t{6} * info_.image_width);
    unsigned char* upper = pair.data();
    run([this, upper, &planes] { decode_rgb(upper, planes); });
    Photo photo = planes.take();
    photo.file = encoded_.file;
    return photo;
  }

  void decode_rgb(unsigned char* upper, RgbPlanes& planes) {
    info_.out_color_space = JCS_RGB;
    jpeg_start_decompress(&info_);
    std::array<JSAMPROW, 2> rows = {upper, upper + std::size_t{3} * info_.image_width};
    while (info_.output_scanline < info_.output_height) {
      const auto y = static_cast<int>(info_.output_scanline);
      jpeg_read_scanlines(&info_, rows.data(), 1);
      if (info_.output_scanline < info_.output_height) jpeg_read_scanlines(&info_, rows.data() + 1, 1);
      planes.store_pair(y, rows[0], rows[1]);
    }
    jpeg_finish_decompress(&info_);
  }

  const EncodedPhoto& encoded_;
  ErrorTrap trap_ = {};
  jpeg_progress_mgr progress_ = {};
  jpeg_decompress_struct info_ = {};
};

}  // namespace

StoredPhoto read_jpeg(const EncodedPhoto& encoded, PhotoColour colour, const PhotoLimits& limits) {
  JpegDecoder decoder(encoded);
  const StoredSize size = decoder.read_header(limits);
  const std::optional<double> focal_mm = decoder.facts().zoomed_focal_mm();
  StoredPhoto stored{decoder.read_picture(colour), size.orientation};
  stored.photo.focal_mm = focal_mm;
  return stored;
}

StoredSize read_jpeg_size(const EncodedPhoto& encoded, const PhotoLimits& limits) {
  return JpegDecoder(encoded).read_header(limits);
}

}  // namespace jigtrue
