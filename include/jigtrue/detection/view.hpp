// What a blank is looked for with.
#pragma once
#include "jigtrue/detection/bare_jig.hpp"
#include "jigtrue/detection/edge_model_store.hpp"
#include "jigtrue/detection/outline.hpp"
#include "jigtrue/image/photo.hpp"

namespace jigtrue {

// Gaussian sigmas, px.
struct PictureBlur {
  double luma_px = 0.9;
  double chroma_px = 1.5;  // what the chroma planes have more, in quadrature
};

// One slot's view: the photo, the camera that took it, the blank as declared and how it lies, and how sharp the photo
// is. It holds references: they must outlive it.
struct View {
  const Photo& photo;
  const Camera& camera;
  const Blank& blank;
  const Seat& seat;
  PictureBlur blur;
  EdgeModelStore& models;
  const BareJig* bare_jig = nullptr;  // where that is known

  // The same for another blank in its stead.
  [[nodiscard]] View with(const Blank& other) const { return {photo, camera, other, seat, blur, models, bare_jig}; }
  [[nodiscard]] bool is_disc() const { return std::holds_alternative<DiscBlank>(blank.shape); }
};

}  // namespace jigtrue
