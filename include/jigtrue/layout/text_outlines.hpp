// Text as outlines: a font file and a shaping library make paths of it, so that no machine needs the font.
#pragma once
#include "jigtrue/layout/artwork.hpp"

#include <memory>
#include <string>

namespace jigtrue {

// A TrueType or OpenType font. Movable, not copyable.
class OutlineFont {
 public:
  // Throws InputError when the bytes are no font with outlines.
  OutlineFont(std::string bytes, const std::string& file_name);
  OutlineFont(OutlineFont&&) noexcept;
  OutlineFont& operator=(OutlineFont&&) noexcept;
  ~OutlineFont();

  // One line of UTF-8 text as one filled shape, its baseline at y = 0, starting at x = 0, y down, 1 em = 1 mm. Kerning
  // and ligatures as the font has them. `where` names the text in messages. Throws InputError for text that is empty or
  // too long (200 characters), that the font has no letters for, or that mixes writing directions.
  [[nodiscard]] InkShape outlines(const std::string& text, const std::string& where) const;

 private:
  struct Face;
  std::unique_ptr<Face> face_;
  std::string file_;
};

}  // namespace jigtrue
