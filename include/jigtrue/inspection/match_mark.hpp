// A burned mark found on an unrolled blank: where, how surely, how dark, and what else of its shape is to be seen
// there.
//
// A mark is its drawing times one contrast, blurred by the lens; all else is the blank's texture. Wood's grain is no
// white noise, so everything is weighed by the inverse of its autocovariance, measured on the same blank beside the
// mark (matched filter for coloured noise: Kay, Fundamentals of Statistical Signal Processing II, 1998, ch. 4;
// generalised least squares for the place). How truly a mark is burned as drawn is told by its parts: each has a place
// of its own. Whether a mark is there at all is told from windows where none can be: the same drawing laid elsewhere
// and mirrored (a contrario: Desolneux, Moisan & Morel, IJCV 40(1), 2000).
#pragma once
#include "jigtrue/inspection/ink_raster.hpp"
#include "jigtrue/inspection/unrolled.hpp"

#include <optional>
#include <vector>

namespace jigtrue {

// How a photo blurs, as the marks on it tell together.
struct MarkBlur {
  double px = 0.0;        // standard
  double ln_sigma = 0.0;  // of its logarithm
};

struct MarkSearch {
  Vector2d expected_mm = Vector2d::Zero();  // of the design's centre, in the unrolled frame
  Vector2d reach_mm = {4.0, 3.0};           // how far off it may lie, u and v
  double reach_rad = 0.026;                 // a degree and a half
  std::optional<MarkBlur> blur;             // absent: the mark's own tells it
};

// Where a pattern's peak lies in the texture's own unit.
struct MarkPeak {
  Vector2d uv_mm = Vector2d::Zero();
  double turn_rad = 0.0;
  double score = 0.0;  // amplitude over its standard deviation; negative: darker
};

struct MarkPiece {
  double from_mm = 0.0;  // along the drawing
  double to_mm = 0.0;
  double contrast = 0.0;
  double sigma = 0.0;
};

// The drawing burned twice, nearer itself than two peaks could be told.
struct NearDouble {
  Vector2d apart_mm = Vector2d::Zero();  // the fainter one from the darker
  double share = 0.0;                    // of its amplitude
  double score = 0.0;                    // of what two explain beyond one: root of the whitened misfit
};

struct FoundMark {
  MarkPeak peak;                 // the best place in the search
  double amplitude_sigma = 0.0;  // of a mark's amplitude there, by the texture alone
  // The place by least squares, with the covariance of (u, v, turn) and what the picture's texture does to it.
  Vector2d uv_mm = Vector2d::Zero();
  double turn_rad = 0.0;
  Matrix3d covariance = Matrix3d::Identity();
  double contrast = 0.0;  // 1 - burned / bare; negative where the mark is paler
  double contrast_sigma = 0.0;
  double blur_px = 0.0;           // of the photo, standard
  double parts_scatter_mm = 0.0;  // of its parts' places, beyond what the texture does to them; standard, one axis
  std::vector<MarkPiece> pieces;  // of the drawing, along it
  double halo = 0.0;              // how much darker the ground within a millimetre of the ink is than further off
  double halo_sigma = 0.0;
  std::optional<double> smoke;  // how much darker the ground within 2.5 mm of the ink is than beyond 4 mm of it
  double smoke_sigma = 0.0;
  std::vector<double> null_scores;  // largest |score| of each window without a mark
  MarkPeak reversed;                // the best place of the drawing turned end for end
  std::optional<MarkPeak> second;   // the drawing's strongest peak in what the match leaves over
  NearDouble near;                  // likewise so near that the two overlap
  double unexplained = 0.0;         // largest |score| of the drawing mirrored in what match and second leave over
  double ink_seen = 0.0;            // share of the ink that lies where the blank is seen
};

// Nothing where less than a third of the drawing's ink would be seen: the rest lies beside the blank, or under glare.
[[nodiscard]] std::optional<FoundMark> match_mark(const Unrolled& unrolled, const InkRaster& ink,
                                                  const MarkSearch& search);

// The chance that a window without a mark would score so high, by the extreme-value law of windows' largest scores
// (Gumbel, fitted by moments). 1 with fewer than six of them.
[[nodiscard]] double chance_of(double score, const std::vector<double>& null_scores);

}  // namespace jigtrue
