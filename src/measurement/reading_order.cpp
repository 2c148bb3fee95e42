#include "jigtrue/measurement/reading_order.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace jigtrue {
namespace {

// How the jig is turned: the mean of the blanks' axes, by their fourfold angles; 0 where they point everywhere.
double jig_turn_rad(const std::vector<Slot>& slots) {
  double c = 0.0;
  double s = 0.0;
  for (const Slot& slot : slots) {
    c += std::cos(4.0 * rad_from_deg(slot.axis_deg));
    s += std::sin(4.0 * rad_from_deg(slot.axis_deg));
  }
  constexpr double kAgree = 0.7;  // length of the mean direction: of a jig whose slots point anywhere it is less
  return std::hypot(c, s) < kAgree * static_cast<double>(slots.size()) ? 0.0 : 0.25 * std::atan2(s, c);
}

}  // namespace

std::vector<std::size_t> reading_order(const std::vector<Slot>& slots) {
  std::vector<std::size_t> order(slots.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  if (slots.empty()) return order;
  const double turn = jig_turn_rad(slots);
  const Vector2d right = unit_vector(turn);
  const Vector2d back = turned_left(right);
  const auto depth = [&](std::size_t i) { return slots[i].centre_mm.dot(back); };
  const auto extent = [&](const Slot& slot) {
    const double girth = largest_girth_mm(slot.blank.shape);
    if (std::holds_alternative<DiscBlank>(slot.blank.shape)) return girth;
    const double axis = rad_from_deg(slot.axis_deg) - turn;
    return std::abs(length_mm(slot.blank.shape) * std::sin(axis)) + std::abs(girth * std::cos(axis));
  };
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return depth(a) < depth(b); });
  for (auto row = order.begin(); row != order.end();) {
    const double limit = depth(*row) + 0.5 * extent(slots[*row]);
    const auto end = std::find_if(row, order.end(), [&](std::size_t i) { return depth(i) > limit; });
    std::sort(row, end, [&](std::size_t a, std::size_t b) {
      return slots[a].centre_mm.dot(right) < slots[b].centre_mm.dot(right);
    });
    row = end;
  }
  return order;
}

}  // namespace jigtrue
