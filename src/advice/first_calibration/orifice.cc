#include "advice/first_calibration/orifice.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"

namespace fuelwright::advice {

Area effective_area(MassFlow flow, AbsolutePressure upstream, AbsolutePressure downstream,
                    Temperature upstream_temperature) {
  constexpr double kG = 1.4;
  constexpr double kR = 287.05;
  const double p0 = upstream.from_zero.si;
  const double p = downstream.from_zero.si;
  EXPECTS(p0 > 0 && p > 0 && p < p0 && upstream_temperature.from_zero.si > 0);
  const double critical = std::pow(2 / (kG + 1), kG / (kG - 1));
  const double r = std::max(p / p0, critical);
  const double psi =
      std::sqrt(2 * kG / (kG - 1) * (std::pow(r, 2 / kG) - std::pow(r, (kG + 1) / kG)));
  return {flow.si * std::sqrt(kR * upstream_temperature.from_zero.si) / (p0 * psi)};  // (first.16)
}

}  // namespace fuelwright::advice
