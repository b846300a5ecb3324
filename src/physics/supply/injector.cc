#include "physics/supply/injector.h"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "base/contract.h"

namespace fuelwright::physics::supply {

Duration squirt_period(const Arrangement& a, EngineSpeed n) {
  EXPECTS(n.rpm > 0 && a.squirts > 0);
  return Duration{1 / (n.cycles_per_second() * a.squirts)};
}

AbsolutePressure tip_pressure(const Arrangement& a, AbsolutePressure manifold,
                              AbsolutePressure ambient) {
  return a.at_ports ? manifold : ambient;
}

MassFlow injector_flow(const Injectors& in, PressureStep across, Density fuel) {
  if (across.si <= 0) return MassFlow{0};
  const double root =
      std::sqrt(across / in.rated_pressure * (fuel / in.rated_density));  // (supply.11)
  return root * in.rated;
}

double mean_match(const Injectors& in) {
  EXPECTS(!in.match.empty());
  return std::accumulate(in.match.begin(), in.match.end(), 0.0) /
         static_cast<double>(in.match.size());
}

double least_match(const Injectors& in) {
  EXPECTS(!in.match.empty());
  return *std::min_element(in.match.begin(), in.match.end());
}

Duration dead_time(const Injectors& in, Voltage volts, PressureStep across) {
  const auto g = [&](Voltage v) { return -std::log(1 - in.opens / v); };
  if (volts.si <= in.opens.si * 1.001) return 1.0 * second;
  const Voltage stated{std::max(in.dead_time_voltage.si, in.opens.si * 1.01)};
  const double effect =
      1 + in.pressure_effect * (std::max(0.0, across.si) / in.rated_pressure.si - 1);
  return g(volts) / g(stated) * std::max(0.2, effect) * in.dead_time;  // (supply.12)
}

MassFlow most_fuel(const Injectors& in, const Arrangement& a, EngineSpeed n, PressureStep across,
                   Density fuel, Voltage volts) {
  const double lost = dead_time(in, volts, across) / squirt_period(a, n);
  const double open = std::max(0.0, in.most_duty - lost);
  return a.injectors * least_match(in) * open * injector_flow(in, across, fuel);  // (supply.14)
}

Pulse pulse_for(const Injectors& in, const Arrangement& a, EngineSpeed n, MassFlow fuel,
                PressureStep across, Density density, Voltage volts) {
  const Duration period = squirt_period(a, n);
  const MassFlow q = a.injectors * mean_match(in) * injector_flow(in, across, density);
  Pulse out;
  constexpr double kNever = 1e3;  // periods
  out.effective = (q.si > 0 ? std::min(kNever, fuel / q) : kNever) * period;
  out.total = out.effective + dead_time(in, volts, across);  // (supply.13)
  out.duty = out.total / period;
  out.left = period - out.total;
  return out;
}

}  // namespace fuelwright::physics::supply
