#include "jigtrue/history/two_photos.hpp"

#include <algorithm>
#include <cmath>

namespace jigtrue {

void TwoPhotos::add(const std::optional<double>& one, const std::optional<double>& other,
                    const std::optional<double>& u_one, const std::optional<double>& u_other) {
  if (!one || !other || !u_one || !u_other) return;
  const double share = (*one - *other) / std::max({*u_one, *u_other, 1e-6});
  squares_ += share * share;
  ++count_;
}

std::optional<double> TwoPhotos::apart() const {
  if (count_ == 0) return std::nullopt;
  return std::sqrt(squares_ / count_);
}

}  // namespace jigtrue
