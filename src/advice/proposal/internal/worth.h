/// From which size on a change is counted and said.
#pragma once

namespace fuelwright::advice::internal {

inline constexpr double kWorthSaying = 0.01;              ///< share of the value
inline constexpr double kWorthSaying_ln = 0.00995033085;  ///< ln 1.01

}  // namespace fuelwright::advice::internal
