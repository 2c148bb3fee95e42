#include "drawn/surface.hpp"

#include "jigtrue/base/read_file.hpp"

#include <array>
#include <cmath>
#include <stdexcept>

namespace jigtrue::test {
namespace {

std::uint32_t word_at(const std::string& bytes, std::size_t place) {
  std::uint32_t word = 0;
  for (std::size_t i = 0; i < 4; ++i) word = word << 8U | static_cast<unsigned char>(bytes.at(place + i));
  return word;
}

// sRGB (IEC 61966-2-1) to linear light.
float linear(unsigned char level) {
  const double x = level / 255.0;
  return static_cast<float>(x <= 0.04045 ? x / 12.92 : std::pow((x + 0.055) / 1.055, 2.4));
}

// The remainder that lies in 0 to `size`, whatever the sign.
int wrapped(long place, int size) {
  const long rest = place % size;
  return static_cast<int>(rest < 0 ? rest + size : rest);
}

}  // namespace

Rgb Surface::at(const Vector2d& mm) const {
  const double x = mm.x() * px_per_mm;
  const double y = mm.y() * px_per_mm;
  const long c = std::lround(std::floor(x));
  const long r = std::lround(std::floor(y));
  const auto tx = static_cast<float>(x - std::floor(x));
  const auto ty = static_cast<float>(y - std::floor(y));
  const auto pixel = [&](long dr, long dc) {
    return factor(wrapped(r + dr, factor.rows), wrapped(c + dc, factor.cols));
  };
  const cv::Vec3f v = (1.0F - ty) * ((1.0F - tx) * pixel(0, 0) + tx * pixel(0, 1)) +
                      ty * ((1.0F - tx) * pixel(1, 0) + tx * pixel(1, 1));
  return {static_cast<double>(v[0]), static_cast<double>(v[1]), static_cast<double>(v[2])};
}

std::filesystem::path surfaces_folder() { return "/usr/share/gimp/2.0/patterns"; }

std::shared_ptr<const Surface> read_surface(const std::string& name, double px_per_mm) {
  const std::filesystem::path file = surfaces_folder() / (name + ".pat");
  if (!std::filesystem::exists(file)) return nullptr;
  return std::make_shared<const Surface>(surface_of_pattern(read_text_file(file), px_per_mm));
}

Surface surface_of_pattern(const std::string& bytes, double px_per_mm) {
  constexpr std::uint32_t kMagic = 0x47504154;  // "GPAT"
  constexpr std::uint32_t kLongest = 4096;
  if (bytes.size() < 24 || word_at(bytes, 20) != kMagic) throw std::runtime_error("no GIMP pattern");
  const std::size_t header = word_at(bytes, 0);
  const std::uint32_t width = word_at(bytes, 8);
  const std::uint32_t height = word_at(bytes, 12);
  const std::uint32_t channels = word_at(bytes, 16);
  if (width == 0 || height == 0 || width > kLongest || height > kLongest || channels == 0 || channels > 4 ||
      header > bytes.size() || bytes.size() - header < std::size_t{width} * height * channels)
    throw std::runtime_error("a GIMP pattern that is cut short");
  Surface surface{cv::Mat3f(static_cast<int>(height), static_cast<int>(width)), px_per_mm};
  std::size_t place = header;
  cv::Vec3d sum(0.0, 0.0, 0.0);
  for (cv::Vec3f& pixel : surface.factor) {
    for (int i = 0; i < 3; ++i) {
      // grey ones repeat their one channel; a second or fourth is opacity
      const std::size_t channel = channels < 3 ? 0 : static_cast<std::size_t>(i);
      pixel[i] = linear(static_cast<unsigned char>(bytes[place + channel]));
      sum[i] += static_cast<double>(pixel[i]);
    }
    place += channels;
  }
  const double count = static_cast<double>(surface.factor.total());
  for (cv::Vec3f& pixel : surface.factor)
    for (int i = 0; i < 3; ++i) pixel[i] /= static_cast<float>(std::max(sum[i] / count, 1e-6));
  return surface;
}

}  // namespace jigtrue::test
