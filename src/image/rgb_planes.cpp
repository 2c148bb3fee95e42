#include "image/rgb_planes.hpp"

#include <cstdint>
#include <utility>

#include "image/large_pages.hpp"

namespace jigtrue {
namespace {

// JFIF 1.02, page 3: Y = 0.299 R + 0.587 G + 0.114 B; Cb = (B - Y) / 1.772 + 128; Cr = (R - Y) / 1.402 + 128.
constexpr int one_bits = 16;
constexpr int fixed(double value) { return static_cast<int>(value * (1 << one_bits) + (value < 0 ? -0.5 : 0.5)); }
constexpr int red_luma = fixed(0.299);
constexpr int green_luma = fixed(0.587);
constexpr int blue_luma = (1 << one_bits) - red_luma - green_luma;  // white is 255 exactly
constexpr int red_cb = fixed(-0.299 / 1.772);
constexpr int green_cb = fixed(-0.587 / 1.772);
constexpr int blue_cb = -red_cb - green_cb;  // grey is 128 exactly
constexpr int green_cr = fixed(-0.587 / 1.402);
constexpr int blue_cr = fixed(-0.114 / 1.402);
constexpr int red_cr = -green_cr - blue_cr;

void store_luma(const unsigned char* rgb, int count, unsigned char* luma) {
  for (int x = 0; x < count; ++x, rgb += 3) {
    const int sum = red_luma * rgb[0] + green_luma * rgb[1] + blue_luma * rgb[2];
    luma[x] = static_cast<unsigned char>((sum + (1 << (one_bits - 1))) >> one_bits);
  }
}

unsigned char chroma(int weighted_sum_of_four) {
  // the sum of four reaches 2^9.. * 2^16 in magnitude: 26 bits and a sign; the offset adds 128 and the half for
  // rounding
  constexpr int shift = one_bits + 2;
  const int level = (weighted_sum_of_four + (128 << shift) + (1 << (shift - 1))) >> shift;
  return static_cast<unsigned char>(level > 255 ? 255 : level);
}

// The four pixels may coincide: at an odd edge the last column or row stands for both.
void store_chroma_sample(const unsigned char* a, const unsigned char* b, const unsigned char* c, const unsigned char* d,
                         unsigned char& cb, unsigned char& cr) {
  const int red = a[0] + b[0] + c[0] + d[0];
  const int green = a[1] + b[1] + c[1] + d[1];
  const int blue = a[2] + b[2] + c[2] + d[2];
  cb = chroma(red_cb * red + green_cb * green + blue_cb * blue);
  cr = chroma(red_cr * red + green_cr * green + blue_cr * blue);
}

void store_chroma(const unsigned char* upper, const unsigned char* lower, int width, unsigned char* cb,
                  unsigned char* cr) {
  const int pairs = width / 2;
  for (int i = 0; i < pairs; ++i, upper += 6, lower += 6) {
    store_chroma_sample(upper, upper + 3, lower, lower + 3, cb[i], cr[i]);
  }
  if (width % 2 == 1) store_chroma_sample(upper, upper, lower, lower, cb[pairs], cr[pairs]);
}

}  // namespace

RgbPlanes::RgbPlanes(int width_px, int height_px, PhotoColour colour) {
  photo_.luma.create(height_px, width_px);
  wish_for_large_pages(photo_.luma);
  if (colour == PhotoColour::luma_only) return;
  photo_.cb.create((height_px + 1) / 2, (width_px + 1) / 2);
  photo_.cr.create(photo_.cb.size());
}

void RgbPlanes::store_pair(int y, const unsigned char* upper, const unsigned char* lower) noexcept {
  const int width = photo_.luma.cols;
  const bool both = y + 1 < photo_.luma.rows;
  store_luma(upper, width, photo_.luma[y]);
  if (both) store_luma(lower, width, photo_.luma[y + 1]);
  if (!photo_.cb.empty()) store_chroma(upper, both ? lower : upper, width, photo_.cb[y / 2], photo_.cr[y / 2]);
}

}  // namespace jigtrue
