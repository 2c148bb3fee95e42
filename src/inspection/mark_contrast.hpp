// How dark a mark is that was found: as a whole, piece by piece along the drawing, and around it.
#pragma once
#include "jigtrue/inspection/match_mark.hpp"

#include <cstddef>
#include <vector>

#include "inspection/laid_ink.hpp"
#include "inspection/texture.hpp"

namespace jigtrue {

double mean_where(const cv::Mat1f& picture, const cv::Mat1b& where);

// Into how many parts, along it, a drawing is cut where its parts are told apart.
inline constexpr std::size_t kMarkParts = 8;
// Bounds along the drawing, mm, that share its ink evenly; one more than parts.
[[nodiscard]] std::vector<double> even_bounds(const InkRaster& ink, std::size_t parts);

// What the match found: the blank, the drawing as blurred as the photo is, and the light over the bare ground's.
struct MatchedPicture {
  const Unrolled& on;
  const InkRaster& ink;
  MarkPose pose;
  cv::Mat1f pattern;             // the ink where it was found, as far as it is seen
  cv::Mat1f sharp;               // the same, not blurred: a scorched rim passes for blur
  std::vector<cv::Mat1f> wider;  // the pattern, were the ink or the blur a standard deviation wider
  cv::Mat1f relative;
  cv::Mat1b bare;  // what the mark leaves
  const Texture& texture;
};

// Contrast with its standard deviation, pieces, halo and smoke.
void tell_contrast(const MatchedPicture& found, FoundMark& match);

}  // namespace jigtrue
