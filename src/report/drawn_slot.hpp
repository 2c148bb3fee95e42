// A slot's sketch in px of the annotated picture, and how it is drawn there.
#pragma once
#include "jigtrue/measurement/slot_result.hpp"
#include "jigtrue/report/standing_style.hpp"

#include <vector>

#include "report/draw.hpp"

namespace jigtrue {

// All sizes follow from the picture's longer side, so that a small photo gets a small drawing.
struct PictureSizes {
  double unit = 1.0;
  draw::Font font;
  draw::Font strong;
  int line_px = 3;
  double gap_px = 10.0;
};
// `unit`: px of this picture for one of an annotated picture of full size.
[[nodiscard]] PictureSizes sizes_for(double unit);

[[nodiscard]] inline double symbol_side(const draw::Font& font) { return font.height_px * 0.95; }

// A slot's sketch in px of the picture.
struct DrawnSlot {
  const SlotResult* slot = nullptr;
  const StandingStyle* style = nullptr;
  std::vector<Polyline2d> outline;
  Polyline2d centreline;
  Polyline2d design_box;
  std::vector<ArtLine> art;
  Polyline2d along;  // from where the arrows start to their tips; empty where they are not known
  Polyline2d across;
  Polyline2d all_outline_points;
  Vector2d label = Vector2d::Zero();
  Vector2d nominal = Vector2d::Zero();  // the design's place, or the middle of the blank where there is no design
  Vector2d corrected = Vector2d::Zero();
  bool moves = false;
};

// `scale`: px of the picture for one of the photo.
[[nodiscard]] DrawnSlot drawn_from(const SlotResult& slot, double scale);

// To another picture, whose first pixel lies elsewhere.
void move_drawn(DrawnSlot& drawn, const Vector2d& by);

// Along and across as arrows that start beyond the blank's end, where they hide nothing.
void add_axes(const SlotResult& slot, double scale, double length_px, DrawnSlot& drawn);

// Where in the picture's corners a compass of this size hides the fewest outlines: its upper left corner.
[[nodiscard]] Vector2d compass_place(const std::vector<DrawnSlot>& slots, const cv::Size& picture,
                                     const Vector2d& size);

[[nodiscard]] Vector2d middle(const Polyline2d& points);

void draw_slot(cv::Mat3b& picture, const DrawnSlot& drawn, const PictureSizes& sizes);
void draw_axes(cv::Mat3b& picture, const DrawnSlot& drawn, const PictureSizes& sizes);

}  // namespace jigtrue
