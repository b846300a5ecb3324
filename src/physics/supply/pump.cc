#include "physics/supply/pump.h"

#include <algorithm>

#include "base/contract.h"

namespace fuelwright::physics::supply {
namespace {

double on_curve(const Pump& pump, double p) {
  EXPECTS(pump.pressure.size() >= 2 && pump.pressure.size() == pump.flow.size());
  std::size_t i = 0;
  while (i + 2 < pump.pressure.size() && p > pump.pressure[i + 1].si) ++i;
  const double p0 = pump.pressure[i].si, p1 = pump.pressure[i + 1].si;
  const double q0 = pump.flow[i].si, q1 = pump.flow[i + 1].si;
  return std::max(0.0, q0 + (q1 - q0) * (p - p0) / (p1 - p0));
}

}  // namespace

VolumeFlow pump_flow(const Pump& pump, PressureStep p, Voltage volts) {
  const double s = volts / pump.rated;
  if (s <= 0) return VolumeFlow{0};
  return VolumeFlow{pump.count * pump.strength * s * on_curve(pump, p.si / (s * s))};  // (supply.8)
}

Current pump_current(const Pump& pump, PressureStep p) {
  const double share = pump.current_pressure.si > 0 ? p / pump.current_pressure : 1;
  return pump.count * (0.45 + 0.55 * std::max(0.0, share)) * pump.current;  // (supply.9)
}

}  // namespace fuelwright::physics::supply
