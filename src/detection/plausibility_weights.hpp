// Written by tests/scenes/weigh.py; not to be edited.
// clang-format off
#pragma once
#include "jigtrue/detection/plausibility.hpp"

namespace jigtrue {

template <std::size_t N>
struct Weights {
  double constant;
  std::array<double, N> of;
};

inline constexpr Weights<kReadingTraits> kRevolutionBlank{
    -7.2009,
    {{
        0.4433,
        -0.4959,
        -0.2854,
        -1.4138,
        2.1655,
        0.4146,
        1.0473,
        -0.4881,
        -0.3858,
        -1.5100,
        -1.1905,
        -0.2930,
        4.0738,
        -1.8441,
        -3.8211,
        1.1279,
        1.6540,
        -0.1119,
        2.0183,
        0.0000,
        1.3820,
        -0.1647,
        2.2462,
        -0.6248,
        -0.1219,
    }}};

inline constexpr Weights<kSlotTraits> kRevolutionEmpty{
    2.4038,
    {{
        -0.1936,
        -0.1265,
        -2.5429,
        -2.3440,
        -3.8190,
        2.4695,
        0.4817,
        1.1878,
        1.3526,
        0.2308,
        -12.4201,
    }}};

inline constexpr Weights<kReadingTraits> kFlatBlank{
    -17.8249,
    {{
        0.5988,
        1.0719,
        -0.0552,
        -1.0522,
        0.9477,
        0.0142,
        0.3351,
        3.0885,
        -0.8254,
        -1.5246,
        -0.1418,
        3.0273,
        1.5396,
        -2.0982,
        -3.1600,
        0.8680,
        1.3337,
        0.2171,
        3.3783,
        4.8124,
        0.7893,
        0.1610,
        0.4694,
        -1.1462,
        -0.7048,
    }}};

inline constexpr Weights<kSlotTraits> kFlatEmpty{
    13.8968,
    {{
        -0.1661,
        -0.0568,
        -3.1164,
        -1.3459,
        -3.1940,
        -3.2211,
        -0.4364,
        0.0000,
        -3.9744,
        -0.3427,
        -2.7834,
    }}};

}  // namespace jigtrue
