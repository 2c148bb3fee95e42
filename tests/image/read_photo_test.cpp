#include "jigtrue/image/read_photo.hpp"

#include "support/input_error_text.hpp"
#include "support/temporary_folder.hpp"

#include <cmath>
#include <fstream>
#include <random>
#include <sys/resource.h>

#include "image/photo_files.hpp"
#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace jigtrue {
namespace {

namespace fs = std::filesystem;
using test::input_error_text;
using test::JpegKind;
using test::PngKind;
using test::put_bytes;
using test::TemporaryFolder;
using test::TiffKind;
using testing::AllOf;
using testing::HasSubstr;

// odd in both axes, and no multiple of a JPEG's blocks
constexpr int width = 101;
constexpr int height = 75;

int difference(const cv::Mat1b& a, const cv::Mat1b& b) {
  if (a.size() != b.size()) return 256;
  return static_cast<int>(cv::norm(a, b, cv::NORM_INF));
}

Photo read_jpeg_bytes(const std::string& bytes, PhotoColour colour = PhotoColour::with_chroma) {
  const TemporaryFolder folder;
  put_bytes(folder / "photo", bytes);
  return read_photo(folder / "photo", colour);
}
Photo read_png_bytes(const std::string& bytes) { return read_jpeg_bytes(bytes); }

Photo read_tiff_kind(const cv::Mat3b& rgb, const TiffKind& kind) {
  const TemporaryFolder folder;
  test::write_tiff(folder / "photo", rgb, kind);
  return read_photo(folder / "photo");
}

// JFIF 1.02, page 3, before rounding.
struct Jfif {
  double luma, cb, cr;
};
Jfif jfif(const cv::Vec3d& rgb) {
  const double luma = 0.299 * rgb[0] + 0.587 * rgb[1] + 0.114 * rgb[2];
  return {luma, (rgb[2] - luma) / 1.772 + 128.0, (rgb[0] - luma) / 1.402 + 128.0};
}

void expect_planes_of(const Photo& photo, const cv::Mat3b& rgb) {
  ASSERT_EQ(photo.luma.size(), rgb.size());
  ASSERT_EQ(photo.cb.size(), cv::Size((rgb.cols + 1) / 2, (rgb.rows + 1) / 2));
  ASSERT_EQ(photo.cr.size(), photo.cb.size());
  // half a level of rounding, and what 16 bits of fixed point add: three products, each off by 255 / 2^17 at the most
  constexpr double tolerance = 0.5 + 3 * 255.0 / (1 << 17);
  for (int y = 0; y < rgb.rows; ++y) {
    for (int x = 0; x < rgb.cols; ++x) ASSERT_NEAR(photo.luma(y, x), jfif(rgb(y, x)).luma, tolerance) << x << ", " << y;
  }
  for (int y = 0; y < photo.cb.rows; ++y) {
    for (int x = 0; x < photo.cb.cols; ++x) {
      const cv::Rect square = cv::Rect(2 * x, 2 * y, 2, 2) & cv::Rect({0, 0}, rgb.size());
      const cv::Scalar mean = cv::mean(rgb(square));
      const Jfif expected = jfif({mean[0], mean[1], mean[2]});
      // pure blue and red would be 255.5: they are stored as 255
      ASSERT_NEAR(photo.cb(y, x), std::min(expected.cb, 255.0), tolerance) << x << ", " << y;
      ASSERT_NEAR(photo.cr(y, x), std::min(expected.cr, 255.0), tolerance) << x << ", " << y;
    }
  }
}

TEST(ReadPng, GivesJfifPlanes) {
  const cv::Mat3b rgb = test::test_picture(width, height);
  expect_planes_of(read_png_bytes(test::png_bytes(rgb)), rgb);
}

TEST(ReadPng, GivesPureColoursAndGreysAsTheyAre) {
  cv::Mat3b rgb(64, 64, cv::Vec3b(0, 0, 255));
  rgb.colRange(16, 32).setTo(cv::Scalar(255, 0, 0));
  rgb.colRange(32, 48).setTo(cv::Scalar(255, 255, 255));
  rgb.colRange(48, 64).setTo(cv::Scalar(77, 77, 77));
  const Photo photo = read_png_bytes(test::png_bytes(rgb));
  expect_planes_of(photo, rgb);
  EXPECT_EQ(photo.luma(0, 40), 255);
  EXPECT_EQ(photo.luma(0, 60), 77);
  EXPECT_EQ(photo.cb(0, 30), 128);
  EXPECT_EQ(photo.cr(0, 30), 128);
}

TEST(ReadPng, EveryKindGivesTheSamePlanes) {
  const cv::Mat3b rgb = test::test_picture(width, height);
  for (const int bits : {8, 16}) {
    for (const bool interlaced : {false, true}) {
      for (const int colour : {PNG_COLOR_TYPE_RGB, PNG_COLOR_TYPE_RGB_ALPHA}) {
        SCOPED_TRACE(testing::Message() << bits << " bits, interlaced " << interlaced << ", colour " << colour);
        // a level v in 8 bits is v * 257 in 16, so nothing is lost either way
        expect_planes_of(read_png_bytes(test::png_bytes(rgb, {colour, bits, interlaced, {}, false})), rgb);
      }
      for (const int colour : {PNG_COLOR_TYPE_GRAY, PNG_COLOR_TYPE_GRAY_ALPHA}) {
        SCOPED_TRACE(testing::Message() << bits << " bits, interlaced " << interlaced << ", grey " << colour);
        const Photo photo = read_png_bytes(test::png_bytes(rgb, {colour, bits, interlaced, {}, false}));
        cv::Mat1b red;
        cv::extractChannel(rgb, red, 0);
        EXPECT_EQ(difference(photo.luma, red), 0);
        EXPECT_FALSE(photo.has_colour());
      }
    }
  }
}

TEST(ReadTiff, EveryKindGivesTheSamePlanesAsPng) {
  const cv::Mat3b rgb = test::test_picture(width, height);
  const Photo png = read_png_bytes(test::png_bytes(rgb));
  const std::vector<TiffKind> kinds = {{.compression = COMPRESSION_NONE},
                                       {.compression = COMPRESSION_LZW},
                                       {.compression = COMPRESSION_PACKBITS, .rows_per_strip = 8},
                                       {.compression = COMPRESSION_LZW, .bits = 16, .big_endian = true},
                                       {.bits = 16, .rows_per_strip = height},
                                       {.rows_per_strip = 1},
                                       {.compression = COMPRESSION_LZW, .tiled = true},
                                       {.bits = 16, .tiled = true, .big_endian = true}};
  for (std::size_t i = 0; i < kinds.size(); ++i) {
    const Photo tiff = read_tiff_kind(rgb, kinds[i]);
    EXPECT_EQ(difference(tiff.luma, png.luma), 0) << "kind " << i;
    EXPECT_EQ(difference(tiff.cb, png.cb), 0) << "kind " << i;
    EXPECT_EQ(difference(tiff.cr, png.cr), 0) << "kind " << i;
  }
}

TEST(ReadTiff, GreyHasNoChroma) {
  const cv::Mat3b rgb = test::test_picture(width, height);
  cv::Mat1b red;
  cv::extractChannel(rgb, red, 0);
  for (const int bits : {8, 16}) {
    const Photo photo = read_tiff_kind(rgb, {.photometric = PHOTOMETRIC_MINISBLACK, .bits = bits});
    EXPECT_EQ(difference(photo.luma, red), 0) << bits << " bits";
    EXPECT_FALSE(photo.has_colour());
  }
}

// The library's ordinary way, told to repeat chroma samples instead of blending them.
cv::Mat3b decoded_by_the_library(const std::string& bytes) {
  jpeg_decompress_struct info = {};
  jpeg_error_mgr errors = {};
  info.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&info);
  jpeg_mem_src(&info, reinterpret_cast<const unsigned char*>(bytes.data()), static_cast<unsigned long>(bytes.size()));
  jpeg_read_header(&info, TRUE);
  info.out_color_space = JCS_YCbCr;
  info.do_fancy_upsampling = FALSE;
  jpeg_start_decompress(&info);
  cv::Mat3b picture(static_cast<int>(info.output_height), static_cast<int>(info.output_width));
  while (info.output_scanline < info.output_height) {
    JSAMPROW rows[] = {picture.ptr(static_cast<int>(info.output_scanline))};
    jpeg_read_scanlines(&info, rows, 1);
  }
  jpeg_finish_decompress(&info);
  jpeg_destroy_decompress(&info);
  return picture;
}

struct Sampling {
  int across, down;
};

class JpegSampling : public testing::TestWithParam<std::tuple<Sampling, bool>> {};

std::string sampling_name(const testing::TestParamInfo<JpegSampling::ParamType>& of) {
  const auto [sampling, progressive] = of.param;
  return std::to_string(sampling.across) + "x" + std::to_string(sampling.down) + (progressive ? "_progressive" : "");
}

TEST_P(JpegSampling, GivesThePlanesAsStored) {
  const auto [sampling, progressive] = GetParam();
  for (const cv::Size size : {cv::Size(width, height), cv::Size(96, 64), cv::Size(81, 65)}) {
    SCOPED_TRACE(testing::Message() << size.width << " x " << size.height);
    JpegKind kind;
    kind.luma_across = sampling.across;
    kind.luma_down = sampling.down;
    kind.progressive = progressive;
    const std::string bytes = test::jpeg_bytes(test::test_picture(size.width, size.height), kind);
    const Photo photo = read_jpeg_bytes(bytes);
    const cv::Mat3b expected = decoded_by_the_library(bytes);
    ASSERT_EQ(photo.luma.size(), size);
    const cv::Size chroma((size.width + sampling.across - 1) / sampling.across,
                          (size.height + sampling.down - 1) / sampling.down);
    ASSERT_EQ(photo.cb.size(), chroma);
    ASSERT_EQ(photo.cr.size(), chroma);
    for (int y = 0; y < size.height; ++y) {
      for (int x = 0; x < size.width; ++x) {
        ASSERT_EQ(photo.luma(y, x), expected(y, x)[0]) << x << ", " << y;
        ASSERT_EQ(photo.cb(y / sampling.down, x / sampling.across), expected(y, x)[1]) << x << ", " << y;
        ASSERT_EQ(photo.cr(y / sampling.down, x / sampling.across), expected(y, x)[2]) << x << ", " << y;
      }
    }
    const Photo grey = read_jpeg_bytes(bytes, PhotoColour::luma_only);
    EXPECT_EQ(difference(grey.luma, photo.luma), 0);
    EXPECT_FALSE(grey.has_colour());
  }
}

INSTANTIATE_TEST_SUITE_P(All, JpegSampling,
                         testing::Combine(testing::Values(Sampling{1, 1}, Sampling{2, 1}, Sampling{1, 2},
                                                          Sampling{2, 2}, Sampling{4, 1}, Sampling{4, 2}),
                                          testing::Bool()),
                         sampling_name);

// A plane must be a picture of its own: a filter that looks past its edge must not find a JPEG's surplus there.
TEST(ReadJpeg, PlanesEndAtTheirEdges) {
  const Photo photo = read_jpeg_bytes(test::jpeg_bytes(test::test_picture(width, height)));
  for (const cv::Mat1b& plane : {photo.luma, photo.cb, photo.cr}) {
    cv::Size whole;
    cv::Point offset;
    plane.locateROI(whole, offset);
    EXPECT_EQ(whole, plane.size());
    EXPECT_EQ(offset, cv::Point(0, 0));
    EXPECT_FALSE(plane.isSubmatrix());
  }
}

TEST(ReadJpeg, GreyHasNoChroma) {
  JpegKind kind;
  kind.colour = JCS_GRAYSCALE;
  const std::string bytes = test::jpeg_bytes(test::test_picture(width, height), kind);
  const Photo photo = read_jpeg_bytes(bytes);
  EXPECT_EQ(photo.luma.size(), cv::Size(width, height));
  EXPECT_FALSE(photo.has_colour());
}

// Flat fields at quality 100 are stored exactly (their one coefficient is a whole number), so only the rounding of the
// two colour conversions is between them: each is off by half a level at the most.
TEST(ReadJpeg, AgreesWithPngOnFlatFields) {
  cv::Mat3b rgb(64, 128);
  for (int i = 0; i < 8; ++i) {
    rgb.colRange(16 * i, 16 * i + 16)
        .setTo(cv::Scalar((i & 1) * 200 + 20, (i >> 1 & 1) * 170 + 31, (i >> 2) * 190 + 42));
  }
  const Photo png = read_png_bytes(test::png_bytes(rgb));
  for (const J_COLOR_SPACE colour : {JCS_YCbCr, JCS_RGB}) {
    JpegKind kind;
    kind.quality = 100;
    kind.colour = colour;
    const Photo jpeg = read_jpeg_bytes(test::jpeg_bytes(rgb, kind));
    EXPECT_LE(difference(jpeg.luma, png.luma), 1) << "colour space " << colour;
    EXPECT_LE(difference(jpeg.cb, png.cb), 1) << "colour space " << colour;
    EXPECT_LE(difference(jpeg.cr, png.cr), 1) << "colour space " << colour;
  }
}

TEST(ReadJpeg, RefusesPrintColours) {
  JpegKind kind;
  kind.colour = JCS_CMYK;
  const std::string bytes = test::jpeg_bytes(test::test_picture(width, height), kind);
  EXPECT_THAT(input_error_text([&] { return read_jpeg_bytes(bytes); }),
              AllOf(HasSubstr("CMYK"), HasSubstr("RGB JPEG")));
}

TEST(ReadJpeg, TakesAFewPaddingBytesBeforeTheEnd) {
  const std::string bytes = test::jpeg_bytes(test::test_picture(width, height));
  const std::string body = bytes.substr(0, bytes.size() - 2);
  const std::string end = bytes.substr(bytes.size() - 2);
  EXPECT_EQ(difference(read_jpeg_bytes(body + std::string(8, '\0') + end).luma, read_jpeg_bytes(bytes).luma), 0);
  EXPECT_THAT(input_error_text([&] { return read_jpeg_bytes(body + std::string(500, '\0') + end); }),
              HasSubstr("damaged"));
}

// EXIF 2.3, section 4.6.4: on which side of the upright picture the stored picture's row 0 and column 0 lie.
struct Sides {
  const char* row_0;
  const char* column_0;
};
constexpr std::array<Sides, 9> sides = {{{},
                                         {"top", "left"},
                                         {"top", "right"},
                                         {"bottom", "right"},
                                         {"bottom", "left"},
                                         {"left", "top"},
                                         {"right", "top"},
                                         {"right", "bottom"},
                                         {"left", "bottom"}}};

template <class Pixel>
cv::Mat_<Pixel> upright(const cv::Mat_<Pixel>& stored, int orientation) {
  const bool on_its_side = orientation >= 5;
  cv::Mat_<Pixel> result(on_its_side ? stored.cols : stored.rows, on_its_side ? stored.rows : stored.cols);
  for (int row = 0; row < stored.rows; ++row) {
    for (int column = 0; column < stored.cols; ++column) {
      int x = 0;
      int y = 0;
      const auto place = [&](const std::string& side, int distance) {
        if (side == "top") y = distance;
        if (side == "bottom") y = result.rows - 1 - distance;
        if (side == "left") x = distance;
        if (side == "right") x = result.cols - 1 - distance;
      };
      place(sides[static_cast<std::size_t>(orientation)].row_0, row);
      place(sides[static_cast<std::size_t>(orientation)].column_0, column);
      result(y, x) = stored(row, column);
    }
  }
  return result;
}

class Orientation : public testing::TestWithParam<int> {
 protected:
  void expect_upright(const fs::path& file, const Photo& stored) const {
    const Photo photo = read_photo(file);
    EXPECT_EQ(difference(photo.luma, upright(stored.luma, GetParam())), 0);
    EXPECT_EQ(difference(photo.cb, upright(stored.cb, GetParam())), 0);
    EXPECT_EQ(difference(photo.cr, upright(stored.cr, GetParam())), 0);
    const PhotoSize size = read_photo_size(file);
    EXPECT_EQ(size.width_px, photo.width_px());
    EXPECT_EQ(size.height_px, photo.height_px());
    EXPECT_EQ(photo.file, file.string());
  }
  const TemporaryFolder folder_;
  const cv::Mat3b rgb_ = test::test_picture(width, height);
};

TEST_P(Orientation, OfAJpegIsApplied) {
  for (const bool big_endian : {false, true}) {
    JpegKind kind;
    const Photo stored = read_jpeg_bytes(test::jpeg_bytes(rgb_, kind));
    kind.exif = test::exif_block(static_cast<std::uint32_t>(GetParam()), big_endian);
    put_bytes(folder_ / "photo.jpg", test::jpeg_bytes(rgb_, kind));
    expect_upright(folder_ / "photo.jpg", stored);
  }
}

TEST_P(Orientation, OfAPngIsApplied) {
  for (const bool behind : {false, true}) {
    PngKind kind;
    const Photo stored = read_png_bytes(test::png_bytes(rgb_, kind));
    kind.exif = test::exif_block(static_cast<std::uint32_t>(GetParam()), true);
    kind.exif_behind = behind;
    put_bytes(folder_ / "photo.png", test::png_bytes(rgb_, kind));
    expect_upright(folder_ / "photo.png", stored);
  }
}

TEST_P(Orientation, OfATiffIsApplied) {
  for (const bool tiled : {false, true}) {
    TiffKind kind;
    kind.tiled = tiled;
    const Photo stored = read_tiff_kind(rgb_, kind);
    kind.orientation = GetParam();
    test::write_tiff(folder_ / "photo.tif", rgb_, kind);
    expect_upright(folder_ / "photo.tif", stored);
  }
}

// Every pixel of the upright picture finds the chroma that was stored for it, also where the size is odd.
TEST_P(Orientation, LeavesTheColourOverItsPixels) {
  for (const cv::Size size : {cv::Size(81, 65), cv::Size(80, 65), cv::Size(81, 64)}) {
    for (const int across : {1, 2}) {
      JpegKind kind;
      kind.luma_across = across;
      kind.luma_down = 2;
      const cv::Mat3b rgb = test::test_picture(size.width, size.height);
      const Photo stored = read_jpeg_bytes(test::jpeg_bytes(rgb, kind));
      cv::Mat1b over_pixels(size);
      for (int y = 0; y < size.height; ++y)
        for (int x = 0; x < size.width; ++x) over_pixels(y, x) = stored.cb(y / 2, x / across);
      const cv::Mat1b expected = upright(over_pixels, GetParam());
      kind.exif = test::exif_block(static_cast<std::uint32_t>(GetParam()), true);
      const Photo photo = read_jpeg_bytes(test::jpeg_bytes(rgb, kind));
      ASSERT_EQ(photo.luma.size(), expected.size());
      for (int y = 0; y < expected.rows; ++y) {
        for (int x = 0; x < expected.cols; ++x) {
          const Vector2d at = photo.chroma.position(Vector2d(x, y));
          ASSERT_EQ(photo.cb(static_cast<int>(std::lround(at.y())), static_cast<int>(std::lround(at.x()))),
                    expected(y, x))
              << x << ", " << y << " of " << size << " at " << across << " x 2";
        }
      }
    }
  }
}

INSTANTIATE_TEST_SUITE_P(All, Orientation, testing::Range(1, 9));

TEST(ReadPhoto, TakesHostileMetadataAsUpright) {
  const cv::Mat3b rgb = test::test_picture(width, height);
  const std::string good = test::exif_block(6, false);
  std::vector<std::string> blocks = {"I",
                                     "II",
                                     "XX*",
                                     std::string("II*\0\xFF\xFF\xFF\xFF", 8),
                                     test::exif_block(0, true),
                                     test::exif_block(9, true),
                                     test::exif_block(65535, false)};
  for (std::size_t size = 1; size < 30; ++size) blocks.push_back(good.substr(0, size));
  for (const std::string& block : blocks) {
    JpegKind kind;
    kind.exif = block;
    PngKind png_kind;
    png_kind.exif = block;
    EXPECT_EQ(read_jpeg_bytes(test::jpeg_bytes(rgb, kind)).luma.size(), rgb.size());
    EXPECT_EQ(read_png_bytes(test::png_bytes(rgb, png_kind)).luma.size(), rgb.size());
  }
}

class DamagedPhoto : public testing::TestWithParam<const char*> {
 protected:
  [[nodiscard]] static std::string bytes(const std::string& kind) {
    const cv::Mat3b rgb = test::test_picture(width, height);
    JpegKind jpeg;
    jpeg.exif = test::exif_block(6, false);
    jpeg.progressive = kind == "jpeg_progressive";
    if (kind == "jpeg" || jpeg.progressive) return test::jpeg_bytes(rgb, jpeg);
    if (kind == "png") return test::png_bytes(rgb);
    if (kind == "png_interlaced") return test::png_bytes(rgb, {PNG_COLOR_TYPE_RGB, 8, true, {}, false});
    const TemporaryFolder folder;
    TiffKind tiff;
    tiff.compression = kind == "tiff_lzw" ? COMPRESSION_LZW : COMPRESSION_NONE;
    tiff.tiled = kind == "tiff_tiled";
    test::write_tiff(folder / "photo", rgb, tiff);
    std::ifstream file(folder / "photo", std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
  }
  const TemporaryFolder folder_;
};

TEST_P(DamagedPhoto, CutShortIsRefused) {
  const std::string whole = bytes(GetParam());
  put_bytes(folder_ / "photo", whole);
  ASSERT_EQ(read_photo(folder_ / "photo").luma.total(), std::size_t{width} * height);
  std::vector<std::size_t> sizes = {whole.size() - 1, whole.size() - 2, whole.size() - 3, 1, 2, 3, 7, 8, 9};
  for (std::size_t i = 1; i < 60; ++i) sizes.push_back(whole.size() * i / 60);
  for (const std::size_t size : sizes) {
    put_bytes(folder_ / "photo", whole.substr(0, size));
    for (const PhotoColour colour : {PhotoColour::with_chroma, PhotoColour::luma_only}) {
      EXPECT_NE(input_error_text([&] { return read_photo(folder_ / "photo", colour); }), "")
          << size << " of " << whole.size() << " bytes";
    }
  }
}

// Whatever the bytes, the outcome is a photo or an InputError.
TEST_P(DamagedPhoto, GarbledGivesAPhotoOrARefusal) {
  const std::string whole = bytes(GetParam());
  std::mt19937 random(20240517u);
  const auto below = [&](std::size_t limit) { return static_cast<std::size_t>(random()) % limit; };
  PhotoLimits limits;
  limits.max_pixels = 1'000'000;
  int refused = 0;
  constexpr int rounds = 300;
  for (int round = 0; round < rounds; ++round) {
    std::string garbled = whole;
    const std::size_t reach = round % 2 == 0 ? std::min<std::size_t>(whole.size(), 700) : whole.size();
    for (std::size_t i = 0; i <= below(8); ++i) garbled[below(reach)] = static_cast<char>(random());
    put_bytes(folder_ / "photo", garbled);
    try {
      const Photo photo = read_photo(folder_ / "photo", PhotoColour::with_chroma, limits);
      EXPECT_FALSE(photo.luma.empty());
    } catch (const InputError& error) {
      ++refused;
      EXPECT_EQ(std::string(error.what()).find('\n'), std::string::npos) << error.what();
    }
  }
  EXPECT_GT(refused, 0) << "no garbled file was ever refused";
}

INSTANTIATE_TEST_SUITE_P(Kinds, DamagedPhoto,
                         testing::Values("jpeg", "jpeg_progressive", "png", "png_interlaced", "tiff", "tiff_lzw",
                                         "tiff_tiled"),
                         [](const auto& of) { return std::string(of.param); });

TEST(ReadPhoto, TellsTheKindByItsBytesNotItsName) {
  const TemporaryFolder folder;
  const cv::Mat3b rgb = test::test_picture(width, height);
  put_bytes(folder / "photo.jpg", test::png_bytes(rgb));
  expect_planes_of(read_photo(folder / "photo.jpg"), rgb);
}

TEST(ReadPhoto, RefusesWhatIsNoPhotoWithTheRemedy) {
  const TemporaryFolder folder;
  const auto text_for = [&](const std::string& bytes) {
    put_bytes(folder / "photo.jpg", bytes);
    std::string text = input_error_text([&] { return read_photo(folder / "photo.jpg"); });
    EXPECT_EQ(input_error_text([&] { return read_photo_size(folder / "photo.jpg"); }), text);
    EXPECT_THAT(text, HasSubstr((folder / "photo.jpg").string()));
    return text;
  };
  EXPECT_THAT(text_for(""), AllOf(HasSubstr("is empty"), HasSubstr("copy it")));
  EXPECT_THAT(text_for("hello"), AllOf(HasSubstr("not a JPEG, PNG or TIFF"), HasSubstr("save it as JPEG")));
  EXPECT_THAT(text_for(std::string("\0\0\0\x18", 4) + "ftypheic0000"),
              AllOf(HasSubstr("HEIC"), HasSubstr("save it as JPEG")));
  EXPECT_THAT(text_for(std::string("\0\0\0\x18", 4) + "ftypmif10000"),
              AllOf(HasSubstr("HEIC"), HasSubstr("save it as JPEG")));
  EXPECT_THAT(input_error_text([&] { return read_photo(folder.path()); }), HasSubstr("is a folder"));
  EXPECT_THAT(input_error_text([&] { return read_photo(folder / "missing.jpg"); }),
              AllOf(HasSubstr("missing.jpg"), HasSubstr("no such file")));
}

TEST(ReadPhoto, RefusesThePreviewOfARawFile) {
  const cv::Mat3b rgb = test::test_picture(width, height);
  EXPECT_THAT(input_error_text([&] { return read_tiff_kind(rgb, {.preview = true}); }),
              AllOf(HasSubstr("raw"), HasSubstr("save it as JPEG")));
}

TEST(ReadPhoto, KeepsToItsLimits) {
  const TemporaryFolder folder;
  const fs::path file = folder / "photo";
  put_bytes(file, test::png_bytes(test::test_picture(width, height)));
  const auto text_with = [&](long max_pixels, int min_side_px) {
    return input_error_text([&] { return read_photo(file, PhotoColour::with_chroma, {max_pixels, min_side_px}); });
  };
  EXPECT_EQ(read_photo(file, PhotoColour::with_chroma, {long{width} * height, height}).width_px(), width);
  EXPECT_THAT(text_with(long{width} * height - 1, 1),
              AllOf(HasSubstr("101 x 75 px"), HasSubstr("use a smaller photo")));
  EXPECT_THAT(text_with(long{width} * height, height + 1), AllOf(HasSubstr("101 x 75 px"), HasSubstr("too small")));
}

// A small file whose header promises 60000 x 60000 pixels.
std::string huge_jpeg() {
  std::string bytes = test::jpeg_bytes(test::test_picture(width, height));
  const std::size_t frame = bytes.find("\xFF\xC0");
  bytes.replace(frame + 5, 4, test::number_bytes(60000, 2, true) + test::number_bytes(60000, 2, true));
  return bytes;
}
std::string huge_png() {
  std::string bytes;
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  png_set_write_fn(png, &bytes, test::append_png, [](png_structp) {});
  png_set_IHDR(png, info, 60000, 60000, 8, PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT,
               PNG_FILTER_TYPE_DEFAULT);
  png_write_info(png, info);
  png_write_chunk(png, reinterpret_cast<png_const_bytep>("IDAT"), reinterpret_cast<png_const_bytep>("x"), 1);
  png_destroy_write_struct(&png, &info);
  return bytes;
}
std::string huge_tiff() {
  const auto number = [](std::uint32_t value, int count) { return test::number_bytes(value, count, false); };
  const auto entry = [&](std::uint32_t tag, std::uint32_t value) {
    return number(tag, 2) + number(4, 2) + number(1, 4) + number(value, 4);
  };
  return "II" + number(42, 2) + number(8, 4) + number(8, 2) + entry(256, 60000) + entry(257, 60000) + entry(258, 8) +
         entry(259, 1) + entry(262, 1) + entry(273, 8) + entry(278, 60000) + entry(279, 100) + number(0, 4);
}

TEST(ReadPhoto, RefusesAHugeHeaderBeforeItAsksForMemory) {
  const auto peak_kb = [] {
    rusage usage = {};
    ::getrusage(RUSAGE_SELF, &usage);
    return usage.ru_maxrss;
  };
  const TemporaryFolder folder;
  for (const std::string& bytes : {huge_jpeg(), huge_png(), huge_tiff()}) {
    put_bytes(folder / "photo", bytes);
    const long before_kb = peak_kb();
    EXPECT_THAT(input_error_text([&] { return read_photo(folder / "photo"); }),
                AllOf(HasSubstr("60000 x 60000 px"), HasSubstr("200 megapixels"), HasSubstr("use a smaller photo")));
    EXPECT_LT(peak_kb() - before_kb, 20'000) << "one row of it in RGB is 180 kB, the whole 10.8 GB";
  }
}

// An EXIF block of 38 bytes whose length, damaged, claims 235 MB: no memory is asked for by what is claimed.
TEST(ReadPhoto, TakesNoChunkOfAPngAtItsWord) {
  const auto asked_kb = [] {  // the most that was ever asked for (proc(5))
    std::ifstream status("/proc/self/status");
    std::string word;
    while (status >> word && word != "VmPeak:") continue;
    long kb = 0;
    status >> kb;
    return kb;
  };
  PngKind kind;
  kind.exif = test::exif_block(6, true);
  std::string bytes = test::png_bytes(test::test_picture(width, height), kind);
  bytes.replace(bytes.find("eXIf") - 4, 4, std::string("\x0E\0\0\x26", 4));
  const TemporaryFolder folder;
  put_bytes(folder / "photo", bytes);
  const long before_kb = asked_kb();
  ASSERT_GT(before_kb, 0);
  EXPECT_THAT(input_error_text([&] { return read_photo(folder / "photo"); }), HasSubstr("the file ends too early"));
  EXPECT_LT(asked_kb() - before_kb, 100'000);
}

TEST(ReadPhotoSize, NeedsTheHeaderOnly) {
  const TemporaryFolder folder;
  JpegKind kind;
  kind.exif = test::exif_block(6, true);
  const std::string bytes = test::jpeg_bytes(test::test_picture(width, height), kind);
  put_bytes(folder / "photo", bytes.substr(0, bytes.size() / 2));
  const PhotoSize size = read_photo_size(folder / "photo");
  EXPECT_EQ(size.width_px, height);
  EXPECT_EQ(size.height_px, width);
}

}  // namespace
}  // namespace jigtrue
