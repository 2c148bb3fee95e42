#include "jigtrue/base/error.hpp"
#include "jigtrue/base/picture_bytes.hpp"
#include "jigtrue/base/read_file.hpp"
#include "jigtrue/layout/artwork.hpp"

#include <array>
#include <optional>
#include <string>
#include <zlib.h>

#include "layout/drawing_limits.hpp"
#include "layout/svg_document.hpp"

namespace jigtrue {
namespace {

constexpr int kGzipOnly = 16 + MAX_WBITS;  // zlib's manual, inflateInit2

bool is_gzip(const std::string& bytes) {
  return bytes.size() > 2 && static_cast<unsigned char>(bytes[0]) == 0x1F &&
         static_cast<unsigned char>(bytes[1]) == 0x8B;
}

class Inflater {
 public:
  explicit Inflater(std::string& packed) {
    stream_.next_in = reinterpret_cast<Bytef*>(packed.data());
    stream_.avail_in = static_cast<uInt>(packed.size());
    ready_ = inflateInit2(&stream_, kGzipOnly) == Z_OK;
  }
  Inflater(const Inflater&) = delete;
  Inflater& operator=(const Inflater&) = delete;
  ~Inflater() { inflateEnd(&stream_); }

  // Nothing when the data is damaged.
  [[nodiscard]] std::optional<std::string> all(std::size_t most) {
    std::string text;
    std::array<char, 1 << 15> part{};
    int state = ready_ ? Z_OK : Z_DATA_ERROR;
    while (state == Z_OK && text.size() <= most) {
      stream_.next_out = reinterpret_cast<Bytef*>(part.data());
      stream_.avail_out = static_cast<uInt>(part.size());
      state = inflate(&stream_, Z_NO_FLUSH);
      text.append(part.data(), part.size() - stream_.avail_out);
    }
    if (state != Z_STREAM_END && text.size() <= most) return std::nullopt;
    return text;
  }

 private:
  z_stream stream_ = {};
  bool ready_ = false;
};

}  // namespace

std::string read_svg_file(const std::filesystem::path& file) {
  std::string bytes = read_text_file(file);
  if (is_picture(bytes))
    throw input_error(file.string(), "is a picture, not an SVG drawing", "trace it to paths and save that as SVG");
  if (!is_gzip(bytes)) return bytes;
  const std::optional<std::string> text = Inflater(bytes).all(svg::kLimits.bytes);
  if (!text)
    throw input_error(file.string(), "is a packed drawing (.svgz) that is damaged", "save it again, as plain SVG");
  if (text->size() > svg::kLimits.bytes)
    throw input_error(file.string(), "is larger than 16 MB once unpacked", "simplify the drawing");
  return *text;
}

}  // namespace jigtrue
