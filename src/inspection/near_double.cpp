#include "inspection/near_double.hpp"

#include <algorithm>
#include <cmath>

#include "inspection/bare_ground.hpp"

namespace jigtrue {
namespace {

constexpr double kReach_mm = 0.7;  // of either from where one fits best: farther apart they show as two peaks
constexpr double kNearest_mm = 0.25;

// The pattern shifted, with the whitened light and with itself, shifts modulo the padded picture.
struct Shifts {
  cv::Mat1f with_light;
  cv::Mat1f with_itself;
  [[nodiscard]] double light(const cv::Point& at) const { return value(with_light, at); }
  [[nodiscard]] double itself(const cv::Point& apart) const { return value(with_itself, apart); }

 private:
  static double value(const cv::Mat1f& map, const cv::Point& at) {
    return static_cast<double>(map((at.y + map.rows) % map.rows, (at.x + map.cols) % map.cols));
  }
};

// Two drawings, each as strong as suits.
struct TwoBurns {
  double first = 0.0;
  double second = 0.0;
  double explained = 0.0;  // of the whitened light
};

TwoBurns two_burns(const Shifts& shifts, const cv::Point& at, const cv::Point& apart) {
  constexpr double kAlike = 1e-6;  // of the energy squared: two that no light tells apart
  const double energy = shifts.itself({0, 0});
  const double both = shifts.itself(apart);
  const double whole = energy * energy - both * both;
  if (!(whole > kAlike * energy * energy)) return {};
  const double light = shifts.light(at);
  const double other = shifts.light(at + apart);
  TwoBurns out{(energy * light - both * other) / whole, (energy * other - both * light) / whole, 0.0};
  if (out.first * out.second > 0.0) out.explained = out.first * light + out.second * other;
  return out;
}

// The other from the first, each pair once.
std::vector<cv::Point> shifts_apart(double pitch_mm) {
  const int reach = static_cast<int>(kReach_mm / pitch_mm);
  std::vector<cv::Point> out;
  for (int y = 0; y <= reach; ++y)
    for (int x = y == 0 ? 1 : -reach; x <= reach; ++x)
      if (const double mm = pitch_mm * std::hypot(x, y); mm >= kNearest_mm && mm <= kReach_mm) out.emplace_back(x, y);
  return out;
}

void take_better(const TwoBurns& burns, const cv::Point& apart, double pitch_mm, double& best, NearDouble& out) {
  if (burns.explained <= best) return;
  best = burns.explained;
  const bool first_is_darker = std::abs(burns.first) >= std::abs(burns.second);
  const double share = burns.second / burns.first;
  out.share = first_is_darker ? share : 1.0 / share;
  out.apart_mm = (first_is_darker ? pitch_mm : -pitch_mm) * Vector2d(apart.x, apart.y);
}

}  // namespace

NearDouble near_double(const Unrolled& on, const Texture& texture, const std::vector<InkRaster>& inks,
                       const MarkPose& pose, const cv::Mat1f& relative) {
  const GroundLoss loss(weight_of(on.seen), on.pitch_mm);
  const cv::Mat2f light = texture.spectrum(loss(relative));
  const int reach = static_cast<int>(kReach_mm / on.pitch_mm);
  const std::vector<cv::Point> aparts = shifts_apart(on.pitch_mm);
  double one = 0.0;
  double two = 0.0;
  NearDouble out;
  for (const InkRaster& ink : inks) {
    const cv::Mat2f pattern = texture.spectrum(loss(laid(on, ink, pose)));
    const Shifts shifts{texture.correlation(light, pattern), texture.correlation(pattern, pattern)};
    if (!(shifts.itself({0, 0}) > 0.0)) continue;
    one = std::max(one, shifts.light({0, 0}) * shifts.light({0, 0}) / shifts.itself({0, 0}));
    for (int y = -reach; y <= reach; ++y)
      for (int x = -reach; x <= reach; ++x)
        for (const cv::Point& apart : aparts)
          take_better(two_burns(shifts, {x, y}, apart), apart, on.pitch_mm, two, out);
  }
  out.score = std::sqrt(std::max(0.0, two - one));
  return out;
}

}  // namespace jigtrue
