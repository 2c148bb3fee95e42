#include "jigtrue/layout/text_outlines.hpp"

#include "jigtrue/base/error.hpp"
#include "jigtrue/base/text.hpp"

#include <algorithm>
#include <hb.h>

namespace jigtrue {

// named, as a class with external linkage (OutlineFont::Face) holds some
namespace harfbuzz {

template <class T, void (*Destroy)(T*)>
struct Release {
  void operator()(T* object) const { Destroy(object); }
};
using Blob = std::unique_ptr<hb_blob_t, Release<hb_blob_t, hb_blob_destroy>>;
using Face = std::unique_ptr<hb_face_t, Release<hb_face_t, hb_face_destroy>>;
using Font = std::unique_ptr<hb_font_t, Release<hb_font_t, hb_font_destroy>>;
using Buffer = std::unique_ptr<hb_buffer_t, Release<hb_buffer_t, hb_buffer_destroy>>;
using DrawFuncs = std::unique_ptr<hb_draw_funcs_t, Release<hb_draw_funcs_t, hb_draw_funcs_destroy>>;

}  // namespace harfbuzz

namespace {

constexpr unsigned kMostCharacters = 200;

// Where the glyphs' outlines are collected; fonts have y up.
struct Pen {
  std::vector<SubPath> paths;
  Vector2d origin = Vector2d::Zero();
  double scale = 1.0;

  [[nodiscard]] Vector2d at(float x, float y) const {
    return scale * Vector2d(origin.x() + static_cast<double>(x), -(origin.y() + static_cast<double>(y)));
  }
};

Pen& pen_of(void* data) { return *static_cast<Pen*>(data); }

void move_to(hb_draw_funcs_t* /*f*/, void* data, hb_draw_state_t* /*s*/, float x, float y, void* /*u*/) {
  Pen& pen = pen_of(data);
  pen.paths.push_back({pen.at(x, y), {}, true});
}

void outline_line_to(hb_draw_funcs_t* /*f*/, void* data, hb_draw_state_t* /*s*/, float x, float y, void* /*u*/) {
  Pen& pen = pen_of(data);
  const Vector2d to = pen.at(x, y);
  pen.paths.back().segments.push_back({false, to, to, to});
}

void quadratic_to(hb_draw_funcs_t* /*f*/, void* data, hb_draw_state_t* /*s*/, float cx, float cy, float x, float y,
                  void* /*u*/) {
  Pen& pen = pen_of(data);
  SubPath& path = pen.paths.back();
  const Vector2d from = path.segments.empty() ? path.start : path.segments.back().end;
  const Vector2d control = pen.at(cx, cy);
  const Vector2d to = pen.at(x, y);
  path.segments.push_back({true, from + 2.0 / 3.0 * (control - from), to + 2.0 / 3.0 * (control - to), to});
}

void cubic_to(hb_draw_funcs_t* /*f*/, void* data, hb_draw_state_t* /*s*/, float c1x, float c1y, float c2x, float c2y,
              float x, float y, void* /*u*/) {
  Pen& pen = pen_of(data);
  pen.paths.back().segments.push_back({true, pen.at(c1x, c1y), pen.at(c2x, c2y), pen.at(x, y)});
}

harfbuzz::DrawFuncs draw_funcs() {
  harfbuzz::DrawFuncs funcs(hb_draw_funcs_create());
  hb_draw_funcs_set_move_to_func(funcs.get(), move_to, nullptr, nullptr);
  hb_draw_funcs_set_line_to_func(funcs.get(), outline_line_to, nullptr, nullptr);
  hb_draw_funcs_set_quadratic_to_func(funcs.get(), quadratic_to, nullptr, nullptr);
  hb_draw_funcs_set_cubic_to_func(funcs.get(), cubic_to, nullptr, nullptr);
  return funcs;
}

void draw_glyph(hb_font_t* font, hb_codepoint_t glyph, hb_draw_funcs_t* funcs, Pen& pen) {
#if HB_VERSION_ATLEAST(7, 0, 0)
  hb_font_draw_glyph(font, glyph, funcs, &pen);
#else
  hb_font_get_glyph_shape(font, glyph, funcs, &pen);
#endif
}

// Shaping takes one direction at a time; ordering mixed text is the business of a paragraph engine.
void refuse_mixed_directions(hb_buffer_t* buffer, const std::string& where) {
  unsigned count = 0;
  const hb_glyph_info_t* infos = hb_buffer_get_glyph_infos(buffer, &count);
  bool left_to_right = false;
  bool right_to_left = false;
  hb_unicode_funcs_t* unicode = hb_unicode_funcs_get_default();
  for (unsigned i = 0; i < count; ++i) {
    const hb_script_t script = hb_unicode_script(unicode, infos[i].codepoint);
    if (script == HB_SCRIPT_COMMON || script == HB_SCRIPT_INHERITED || script == HB_SCRIPT_UNKNOWN) continue;
    (hb_script_get_horizontal_direction(script) == HB_DIRECTION_RTL ? right_to_left : left_to_right) = true;
  }
  if (left_to_right && right_to_left)
    throw input_error(where, "mixes writing directions", "draw it in a drawing program and convert it to outlines");
}

// Some fonts anchor marks by contours of a single point: a machine that traces would burn a dot there.
bool has_extent(const SubPath& path) {
  return std::any_of(path.segments.begin(), path.segments.end(), [&](const PathSegment& s) {
    return s.end != path.start || (s.cubic && (s.control_1 != path.start || s.control_2 != path.start));
  });
}

std::string code_point_text(hb_codepoint_t c) {
  static constexpr const char* kDigits = "0123456789ABCDEF";
  std::string text;
  for (int shift = 16; shift >= 0; shift -= 4) text += kDigits[(c >> shift) & 0xFu];
  return "U+" + text.substr(text[0] == '0' ? 1 : 0);
}

}  // namespace

struct OutlineFont::Face {
  std::string bytes;
  harfbuzz::Face face;
  harfbuzz::Font font;
};

OutlineFont::OutlineFont(OutlineFont&&) noexcept = default;
OutlineFont& OutlineFont::operator=(OutlineFont&&) noexcept = default;
OutlineFont::~OutlineFont() = default;

OutlineFont::OutlineFont(std::string bytes, const std::string& file_name)
    : face_(std::make_unique<Face>()), file_(file_name) {
  face_->bytes = std::move(bytes);
  const harfbuzz::Blob blob(hb_blob_create(face_->bytes.data(), static_cast<unsigned>(face_->bytes.size()),
                                           HB_MEMORY_MODE_READONLY, nullptr, nullptr));
  face_->face.reset(hb_face_create(blob.get(), 0));
  if (hb_face_get_glyph_count(face_->face.get()) == 0)
    throw input_error(file_name, "is no TrueType or OpenType font", "give a .ttf or .otf file");
  face_->font.reset(hb_font_create(face_->face.get()));
}

InkShape OutlineFont::outlines(const std::string& text, const std::string& where) const {
  if (valid_utf8(text) != text) throw input_error(where, "is not UTF-8 text", "save the list as UTF-8");
  const harfbuzz::Buffer buffer(hb_buffer_create());
  hb_buffer_add_utf8(buffer.get(), text.data(), static_cast<int>(text.size()), 0, static_cast<int>(text.size()));
  const unsigned characters = hb_buffer_get_length(buffer.get());
  if (characters > kMostCharacters) throw input_error(where, "is longer than 200 characters", "shorten it");
  refuse_mixed_directions(buffer.get(), where);
  hb_buffer_guess_segment_properties(buffer.get());
  hb_shape(face_->font.get(), buffer.get(), nullptr, 0);

  unsigned count = 0;
  const hb_glyph_info_t* infos = hb_buffer_get_glyph_infos(buffer.get(), &count);
  const hb_glyph_position_t* positions = hb_buffer_get_glyph_positions(buffer.get(), &count);
  const harfbuzz::DrawFuncs funcs = draw_funcs();
  Pen pen;
  pen.scale = 1.0 / hb_face_get_upem(face_->face.get());
  Vector2d at = Vector2d::Zero();
  for (unsigned i = 0; i < count; ++i) {
    if (infos[i].codepoint == 0) {
      const harfbuzz::Buffer rest(hb_buffer_create());
      const auto from = infos[i].cluster;
      hb_buffer_add_utf8(rest.get(), text.data() + from, static_cast<int>(text.size() - from), 0, -1);
      const hb_glyph_info_t* first = hb_buffer_get_glyph_infos(rest.get(), nullptr);
      throw input_error(where,
                        "holds the character " + code_point_text(first->codepoint) + ", which " + file_ + " has not",
                        "choose a font that has it, or change the text");
    }
    pen.origin = at + Vector2d(positions[i].x_offset, positions[i].y_offset);
    draw_glyph(face_->font.get(), infos[i].codepoint, funcs.get(), pen);
    at += Vector2d(positions[i].x_advance, positions[i].y_advance);
  }
  InkShape shape;
  shape.fill = "#000000";
  for (SubPath& path : pen.paths)
    if (has_extent(path)) shape.outline.push_back(std::move(path));
  if (shape.outline.empty()) throw input_error(where, "holds no letters", "give it a text, or leave the slot out");
  return shape;
}

}  // namespace jigtrue
