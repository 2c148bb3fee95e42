// Where a photo's grey levels end.
#pragma once

namespace jigtrue {

// From the one on the sensor is full, up to the other it has nothing, but for what compression changes (two levels of
// JPEG's rounding): such a pixel says only that there is no less, or no more, light.
inline constexpr double kSensorFull = 253.0;
inline constexpr double kSensorEmpty = 2.0;

// Grey levels below which a ratio of light says nothing: a dark surface's light is no more than the lens's own glare.
// Common practice, no source.
inline constexpr double kDarkest = 8.0;

}  // namespace jigtrue
