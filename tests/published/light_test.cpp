// Published: light met at an angle. Fresnel's equations (M. Born, E. Wolf, Principles of Optics, 7th ed., 1.5.2 and
// 1.5.3) and Lambert's cosine law.
#include "jigtrue/layout/usable_band.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace jigtrue {
namespace {

constexpr double kGlass = 1.5;

// Degrees of incidence; % reflected at n = 1.5, unpolarised; cosine. Fresnel's percentages as tabulated to two places,
// cosines to four.
struct Row {
  double degrees, reflected_percent, cosine;
};
constexpr Row kTable[] = {{0, 4.00, 1.0000},  {20, 4.03, 0.9397}, {30, 4.15, 0.8660},
                          {40, 4.57, 0.7660}, {50, 5.77, 0.6428}, {60, 8.92, 0.5000}};

TEST(Light, IsReflectedAsTheTableSays) {
  for (const Row& row : kTable) {
    EXPECT_NEAR(100.0 * reflected_share(rad_from_deg(row.degrees), kGlass), row.reflected_percent, 0.005)
        << row.degrees << " degrees";
  }
}

TEST(Light, IsTakenByTheCosineAndWhatIsNotReflected) {
  for (const Row& row : kTable) {
    const double taken = row.cosine * (100.0 - row.reflected_percent) / (100.0 - 4.0);
    // half of the last digits: 5e-5 of the cosine, 5e-5 of either share
    EXPECT_NEAR(relative_fluence(rad_from_deg(row.degrees), kGlass), taken, 1.5e-4) << row.degrees << " degrees";
  }
}

// At Brewster's angle, tan b = n, nothing of one polarisation comes back, and of the other ((n^2 - 1) / (n^2 + 1))^2.
TEST(Light, AtBrewstersAngleOnePolarisationIsLeft) {
  for (const double n : {1.33, 1.5, 2.0, 3.5}) {
    const double other = std::pow((n * n - 1.0) / (n * n + 1.0), 2);
    EXPECT_NEAR(reflected_share(std::atan(n), n), other / 2.0, 1e-12) << "n " << n;
  }
}

// ((n - 1) / (n + 1))^2 met squarely, everything at grazing incidence.
TEST(Light, LimitsAreFresnels) {
  for (const double n : {1.33, 1.5, 2.0, 3.5}) {
    EXPECT_NEAR(reflected_share(0.0, n), std::pow((n - 1.0) / (n + 1.0), 2), 1e-15) << "n " << n;
    EXPECT_NEAR(reflected_share(kPi / 2.0, n), 1.0, 1e-12) << "n " << n;
  }
}

// ISO 11146-1 (formula from memory): z_R = pi w0^2 / (M^2 lambda), w(z) = w0 sqrt(1 + (z / z_R)^2). A CO2 beam of 0.1
// mm at 10.6 um and M^2 = 1: z_R = 0.7409 mm, where the spot has grown by sqrt(2).
TEST(Light, FocusIsAsDeepAsABeamsRayleighLength) {
  BandLimits limits;
  limits.spot_um = 100.0;
  limits.wavelength_nm = 10'600.0;
  limits.spot_growth = std::sqrt(2.0);
  EXPECT_NEAR(*depth_of_focus_mm(limits), 0.7409, 5e-5);
}

}  // namespace
}  // namespace jigtrue
