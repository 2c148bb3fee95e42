#include "jigtrue/measurement/scale_of_load.hpp"

#include "jigtrue/base/coverage_factor.hpp"
#include "jigtrue/base/median.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>
#include <optional>

#include <Eigen/LU>

namespace jigtrue {
namespace {

constexpr std::size_t kFewestToTell = 3;   // that agree on a scale
constexpr double kWorthNaming = 0.005;     // half a percent: less is within what callipers and blanks err by
constexpr double kOneInThousand = 3.2905;  // of a normal distribution's two tails together
constexpr double kOneInTwenty = 1.6449;    // of one tail
// What sides that were not measured by themselves, and a jig's own distances, may be off: common practice, no source.
constexpr double kGirth_mm = 0.1;
constexpr double kDistances = 0.001;
const double kOfUniform = 1.0 / std::sqrt(3.0);  // standard deviation over half-width

// By how much one kind of size is off, relative, and the standard deviation that a sound load leaves it.
struct ShareOff {
  const char* what;
  double off = 0.0;
  double sigma = 0.0;
};

// With a sigma that is itself told from so many degrees of freedom: the normal distribution's that has the same tails
// there (Wallace, Ann. Math. Stat. 30 (1959), 1124, good to 0.02 in the normal score).
double as_normal(double off, double sigma, double freedom) {
  const double squared = off * off / (sigma * sigma * freedom);
  if (squared < 1e-12) return sigma;
  return sigma * std::sqrt(squared / std::log1p(squared)) * (8.0 * freedom + 3.0) / (8.0 * freedom + 1.0);
}

// What a mean of so many, told by their scatter, and what all have in common leave together (Welch, Biometrika 34
// (1947)).
double joint_sigma(double off, double of_mean, double freedom, double common) {
  const double sigma = std::hypot(of_mean, common);
  const double share = of_mean * of_mean / (sigma * sigma);
  return share > 0.0 ? as_normal(off, sigma, freedom / (share * share)) : sigma;
}

// Sizes of one kind: their median, and what their scatter and what they share leave open of it.
std::optional<ShareOff> common_share(const char* what, const std::vector<double>& off, double common) {
  if (off.size() < kFewestToTell) return std::nullopt;
  constexpr double kMadEfficiency = 0.37;  // of the median distance, against a standard deviation
  const auto count = static_cast<double>(off.size());
  const double middle = median(off).value_or(0.0);
  std::vector<double> apart;
  apart.reserve(off.size());
  for (const double share : off) apart.push_back(std::abs(share - middle));
  const double of_median = std::sqrt(0.5 * kPi / count) * kSigmaOfMad * median(apart).value_or(0.0);
  return ShareOff{what, middle, joint_sigma(middle, of_median, kMadEfficiency * (count - 1.0), common)};
}

// Where a blank lies, as its slot sees it: across and along differ by how much blanks stray.
struct Strayed {
  Eigen::Matrix<double, 2, 4> rows;  // d (across, along) / d (shift x, y, scale, turn)
  Vector2d off_mm;
};

// The slots' common shift, turn and scale by least squares, blanks straying across and along by what they show to.
std::optional<ShareOff> distances_off(const std::vector<Strayed>& places) {
  if (places.size() < kFewestToTell + 1) return std::nullopt;
  constexpr double kLeast_mm = 0.03;                                // as blanks lie in slots at best
  constexpr int kRounds = 5;                                        // of weighing the places anew
  const double freedom = static_cast<double>(places.size()) - 2.0;  // of either direction
  Vector2d sigma_mm(1.0, 1.0);
  Eigen::Vector4d fitted;
  Eigen::Matrix4d inverse;
  for (int round = 0; round < kRounds; ++round) {
    Eigen::Matrix4d normal = Eigen::Matrix4d::Zero();
    Eigen::Vector4d right = Eigen::Vector4d::Zero();
    const Matrix2d weight = sigma_mm.cwiseAbs2().cwiseInverse().asDiagonal();
    for (const Strayed& place : places) {
      normal += place.rows.transpose() * weight * place.rows;
      right += place.rows.transpose() * weight * place.off_mm;
    }
    inverse = normal.inverse();  // not finite where all lie in one place
    fitted = inverse * right;
    Vector2d squares = Vector2d::Zero();
    for (const Strayed& place : places) squares += (place.off_mm - place.rows * fitted).cwiseAbs2();
    sigma_mm = (squares / freedom).cwiseSqrt().cwiseMax(kLeast_mm);
  }
  if (!inverse.allFinite() || !(inverse(2, 2) > 0.0)) return std::nullopt;
  return ShareOff{"distances", fitted[2], joint_sigma(fitted[2], std::sqrt(inverse(2, 2)), freedom, kDistances)};
}

std::vector<ShareOff> shares_off(const Fixture& fixture, const std::vector<SlotResult>& slots) {
  std::vector<double> lengths;
  std::vector<double> girths;
  std::vector<double> girth_sigmas;
  double length_common = 0.0;
  double girth_common = 0.0;
  Vector2d middle_mm = Vector2d::Zero();
  double seen_count = 0.0;
  for (std::size_t i = 0; i < slots.size(); ++i) {
    if (!slots[i].seen) continue;
    const SeenSize& seen = *slots[i].seen;
    const Blank& blank = fixture.slots[i].blank;
    const double girth_mm = largest_girth_mm(blank.shape);
    if (seen.length_mm) {
      lengths.push_back(*seen.length_mm / length_mm(blank.shape) - 1.0);
      length_common = std::max(length_common, kOfUniform * blank.length_tolerance_mm / length_mm(blank.shape));
    }
    girths.push_back(seen.girth_mm / girth_mm - 1.0);
    const double measured_mm = slots[i].girth ? slots[i].girth->sigma_mm : kGirth_mm;
    girth_sigmas.push_back(std::hypot(kOfUniform * blank.diameter_tolerance_mm, measured_mm) / girth_mm);
    middle_mm += fixture.slots[i].centre_mm;
    seen_count += 1.0;
  }
  girth_common = median(girth_sigmas).value_or(0.0);
  std::vector<Strayed> places;
  for (std::size_t i = 0; i < slots.size(); ++i) {
    if (!slots[i].seen) continue;
    const Slot& slot = fixture.slots[i];
    const Vector2d from_mm = slot.centre_mm - middle_mm / seen_count;
    const double axis_rad = rad_from_deg(slot.axis_deg);
    Matrix2d seen_by_slot;
    seen_by_slot << -std::sin(axis_rad), std::cos(axis_rad), std::cos(axis_rad), std::sin(axis_rad);
    Eigen::Matrix<double, 2, 4> rows;
    rows << 1.0, 0.0, from_mm.x(), -from_mm.y(), 0.0, 1.0, from_mm.y(), from_mm.x();
    places.push_back({seen_by_slot * rows, seen_by_slot * (slots[i].seen->centre_mm - slot.centre_mm)});
  }
  std::vector<ShareOff> kinds;
  if (const auto share = common_share("lengths", lengths, length_common)) kinds.push_back(*share);
  if (const auto share = common_share("widths", girths, girth_common)) kinds.push_back(*share);
  if (const auto share = distances_off(places)) kinds.push_back(*share);
  return kinds;
}

// One scale for all kinds but one.
struct Scale {
  double off = 0.0;
  double sigma = std::numeric_limits<double>::infinity();
  [[nodiscard]] double score() const { return off / sigma; }
};

Scale common_scale(const std::vector<ShareOff>& kinds, const ShareOff* without = nullptr) {
  double weights = 0.0;
  double off = 0.0;
  for (const ShareOff& kind : kinds) {
    if (&kind == without) continue;
    weights += 1.0 / (kind.sigma * kind.sigma);
    off += kind.off / (kind.sigma * kind.sigma);
  }
  return weights > 0.0 ? Scale{off / weights, 1.0 / std::sqrt(weights)} : Scale{};
}

// All kinds together say so at a level that one sound load in 1,000 reaches; without any one of them, which the file
// may have wrong, the others still say so at one in 20; and none contradicts them at the first level.
bool one_scale_shows(const std::vector<ShareOff>& kinds, const Scale& scale) {
  if (kinds.size() < 2 || std::abs(scale.off) < kWorthNaming || std::abs(scale.score()) < kOneInThousand) return false;
  return std::all_of(kinds.begin(), kinds.end(), [&](const ShareOff& kind) {
    const Scale others = common_scale(kinds, &kind);
    return others.score() * (scale.off > 0.0 ? 1.0 : -1.0) > kOneInTwenty &&
           std::abs(kind.off - others.off) < kOneInThousand * std::hypot(kind.sigma, others.sigma);
  });
}

}  // namespace

std::string scale_of_load(const Fixture& fixture, const std::vector<SlotResult>& slots, double camera_height_mm) {
  const std::vector<ShareOff> kinds = shares_off(fixture, slots);
  const Scale scale = common_scale(kinds);
  if (!one_scale_shows(kinds, scale)) return {};
  std::string names;
  for (const ShareOff& kind : kinds)
    names += (names.empty() ? "" : &kind == &kinds.back() ? " and " : ", ") + std::string(kind.what);
  const char* than = scale.off < 0.0 ? "smaller" : "larger";
  std::array<char, 500> text{};
  std::snprintf(text.data(), text.size(),
                "The blanks' %s together come out %.1f %% (+/- %.1f) %s than the file says: as if the squares of the "
                "board that gave the camera were %.1f %% %s than --board said, or everything lay %.0f mm %s. Measure "
                "the print over many squares, and run jigtrue lens and jigtrue pose with what it measures; what else "
                "is said of sizes and distances may come of it.",
                names.c_str(), 100.0 * std::abs(scale.off), 100.0 * kCoverageFactor95 * scale.sigma, than,
                100.0 * std::abs(scale.off), scale.off < 0.0 ? "larger" : "smaller",
                std::abs(scale.off) * camera_height_mm, scale.off < 0.0 ? "lower" : "higher");
  return text.data();
}

}  // namespace jigtrue
