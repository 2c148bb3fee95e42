#include "jigtrue/measurement/scale_of_load.hpp"

#include "jigtrue/base/median.hpp"
#include "jigtrue/calibration/declared_slips.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestToTell = 3;
constexpr double kWorthNaming = 0.005;
// How well a file knows its blanks' sizes: common practice, no source.
constexpr double kDeclaredLength_mm = 0.3;
constexpr double kDeclaredGirth_mm = 0.1;

// By how much one kind of size is off, relative, and the half-width (95 %) within which that may be chance.
struct ShareOff {
  const char* what;
  double off = 0.0;
  double u = 0.0;
  [[nodiscard]] bool speaks() const { return std::abs(off) > u; }
};

// Sizes of one kind: their median, and what their scatter and the file leave open of it.
std::optional<ShareOff> common_share(const char* what, const std::vector<double>& off, double declared_u) {
  if (off.size() < kFewestToTell) return std::nullopt;
  const double middle = median(off).value_or(0.0);
  std::vector<double> apart;
  apart.reserve(off.size());
  for (const double share : off) apart.push_back(std::abs(share - middle));
  const double scatter = 1.4826 * median(apart).value_or(0.0);
  return ShareOff{what, middle, std::hypot(2.0 * scatter / std::sqrt(static_cast<double>(off.size())), declared_u)};
}

std::vector<ShareOff> shares_off(const Fixture& fixture, const std::vector<SlotResult>& slots) {
  std::vector<double> lengths;
  std::vector<double> girths;
  double length_u = 0.0;
  double girth_u = 0.0;
  std::vector<Vector2d> nominal;
  std::vector<Vector2d> measured;
  for (std::size_t i = 0; i < slots.size(); ++i) {
    if (!slots[i].seen) continue;
    const SeenSize& seen = *slots[i].seen;
    const BlankShape& shape = fixture.slots[i].blank.shape;
    if (seen.length_mm) {
      lengths.push_back(*seen.length_mm / length_mm(shape) - 1.0);
      length_u = std::max(length_u, kDeclaredLength_mm / length_mm(shape));
    }
    girths.push_back(seen.girth_mm / largest_girth_mm(shape) - 1.0);
    girth_u = std::max(girth_u, kDeclaredGirth_mm / largest_girth_mm(shape));
    nominal.push_back(fixture.slots[i].centre_mm);
    measured.push_back(seen.centre_mm);
  }
  std::vector<ShareOff> kinds;
  if (const auto share = common_share("lengths", lengths, length_u)) kinds.push_back(*share);
  if (const auto share = common_share("widths", girths, girth_u)) kinds.push_back(*share);
  // where the blanks lie against each other: with what they may lie about in their slots
  if (const auto places = scale_by_marks(nominal, measured))
    kinds.push_back({"distances", 1.0 / places->scale - 1.0, places->u95});
  return kinds;
}

}  // namespace

std::string scale_of_load(const Fixture& fixture, const std::vector<SlotResult>& slots, double camera_height_mm) {
  const std::vector<ShareOff> kinds = shares_off(fixture, slots);
  double weights = 0.0;
  double off = 0.0;
  for (const ShareOff& kind : kinds) {
    if (!(kind.u > 0.0)) return {};
    weights += 1.0 / (kind.u * kind.u);
    off += kind.off / (kind.u * kind.u);
  }
  if (!(weights > 0.0)) return {};
  off /= weights;
  const double u = 1.0 / std::sqrt(weights);
  std::string speaking;
  std::size_t count = 0;
  for (const ShareOff& kind : kinds) {
    if (std::abs(kind.off - off) > std::hypot(kind.u, u)) return {};
    if (!kind.speaks()) continue;
    speaking += (count == 0 ? "" : count == 1 ? " and " : " and the ") + std::string(kind.what);
    ++count;
  }
  if (count < 2 || std::abs(off) < kWorthNaming) return {};
  char text[400];
  std::snprintf(text, sizeof text,
                "The blanks' %s all come out %.1f %% (+/- %.1f) %s than the file says: as if the squares of the board "
                "that gave the camera were %.1f %% %s than --board said, or everything lay %.0f mm %s. Measure the "
                "print over many squares, and run jigtrue lens and jigtrue pose with what it measures.",
                speaking.c_str(), 100.0 * std::abs(off), 100.0 * u, off < 0.0 ? "smaller" : "larger",
                100.0 * std::abs(off), off < 0.0 ? "larger" : "smaller", std::abs(off) * camera_height_mm,
                off < 0.0 ? "lower" : "higher");
  return text;
}

}  // namespace jigtrue
