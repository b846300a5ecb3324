#include "physics/supply/vapour.h"

#include <algorithm>
#include <limits>

namespace fuelwright::physics::supply {
namespace {

double suction_pa(const System& s, double flow) {
  return pipe_loss(s.inlet.suction, VolumeFlow{flow}, s.tank_density(),
                   viscosity_pa_s(s.liquid, s.tank))
      .si;
}

}  // namespace

VolumeFlow inlet_can(const System& s, VolumeFlow beyond) {
  const double spare = s.ambient.from_zero.si + s.inlet.height.si - s.inlet.needed.si -
                       vapour_pressure(s.liquid, s.tank).from_zero.si;  // (supply.16)
  if (spare <= 0) return VolumeFlow{0};
  if (suction_pa(s, beyond.si) <= spare) return VolumeFlow{std::numeric_limits<double>::infinity()};
  double low = 0, high = beyond.si;
  for (int i = 0; i < 40; ++i) {
    const double middle = (low + high) / 2;
    (suction_pa(s, middle) <= spare ? low : high) = middle;
  }
  return VolumeFlow{low};
}

VapourMargin vapour_margin(const System& s, VolumeFlow pumped, GaugePressure rail) {
  VapourMargin out;
  const double at_inlet =
      s.ambient.from_zero.si + s.inlet.height.si - suction_pa(s, pumped.si) - s.inlet.needed.si;
  out.inlet = PressureStep{at_inlet - vapour_pressure(s.liquid, s.tank).from_zero.si};
  out.inlet_boils_at = boils_at(s.liquid, absolute(PressureStep{std::max(1e3, at_inlet)}));
  const AbsolutePressure there = from_gauge(rail, s.ambient);
  out.rail = there - vapour_pressure(s.liquid, s.rail());
  out.rail_boils_at = boils_at(s.liquid, there);
  return out;
}

}  // namespace fuelwright::physics::supply
