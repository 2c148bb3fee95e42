// What the lens photos cover, and which photo to take next.
#pragma once
#include "jigtrue/calibration/lens_fit.hpp"
#include "jigtrue/image/board_look.hpp"

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace jigtrue {

inline constexpr int kFieldColumns = 8;
inline constexpr int kFieldRows = 6;

// The picture in 8 x 6 fields, row by row from the top: how many used corners fell into each.
struct Coverage {
  std::array<int, std::size_t{kFieldColumns} * kFieldRows> corners{};
  [[nodiscard]] int& at(int column, int row) { return corners[index(column, row)]; }
  [[nodiscard]] int at(int column, int row) const { return corners[index(column, row)]; }
  [[nodiscard]] int empty() const;

 private:
  static std::size_t index(int column, int row) {
    return static_cast<std::size_t>(row) * kFieldColumns + static_cast<std::size_t>(column);
  }
};
[[nodiscard]] Coverage coverage(const LensFit& fit);

// How a board was held: the angle between its normal and the sight ray to its middle, and which of its edges, as seen
// in the picture, comes towards the camera.
enum class NearEdge { left, right, upper, lower };
[[nodiscard]] const char* to_string(NearEdge edge);
struct BoardTilt {
  double angle_deg = 0.0;
  NearEdge near_edge = NearEdge::left;
};
[[nodiscard]] BoardTilt board_tilt(const PhotoFit& photo);  // of a used photo

// Whole sentences, the most useful photo first, three at most; empty when no field is without corners and boards were
// tilted towards all four sides. Where photos come near to what is asked for, or all have the same tilt, they are
// named.
[[nodiscard]] std::vector<std::string> next_photos(const LensFit& fit);

// How one photo shows its board.
struct PhotoLook {
  std::string file;
  std::optional<BoardLook> board;  // nothing when none was found
  double bright = 255.0;           // bright_level of the whole photo
};
// What is wrong with single photos, a sentence each, the photo's name first: dark, overexposed, soft (against the other
// photos and the fields' size), a reflection over some fields and where.
[[nodiscard]] std::vector<std::string> photo_faults(const std::vector<PhotoLook>& photos, int width_px, int height_px);

}  // namespace jigtrue
