// Two photos of one load, or of two: told by how far what they say of the blanks lies apart.
#pragma once
#include <optional>

namespace jigtrue {

class TwoPhotos {
 public:
  // A number of each photo with its 95 % half-width; passed over where one of them is not known.
  void add(const std::optional<double>& one, const std::optional<double>& other, const std::optional<double>& u_one,
           const std::optional<double>& u_other);

  // Root mean square of the differences, each over its half-width; nothing where nothing was added. Were all that is
  // stated of a number the chance of one photo, two would differ by sqrt(2) / 1.96; copies of one photo differ less,
  // however they were saved, and blanks that were taken out and laid in again more.
  [[nodiscard]] std::optional<double> apart() const;

 private:
  double squares_ = 0.0;  // of differences, each over its half-width
  int count_ = 0;
};

}  // namespace jigtrue
