/// Injectors: flow, dead time, pulses, and what is the most they can feed.
///
///   q = q_rated sqrt(dp/dp_rated * rho/rho_rated) (supply.11) d(V, dp) = d0 g(V)/g(V0) (1 + c
///   (dp/dp0 - 1)),  g(V) = -ln(1 - V_opens/V)           (supply.12) pulse = m/q + d,   duty =
///   squirts pulse/(120 s rpm/N)                               (supply.13) most = n q_least
///   (duty_most - squirts d N/120)                                      (supply.14)
///
/// q mass flow of one injector held open, m fuel of one squirt, N engine speed, n injectors,
/// q_least of the smallest: all get the same pulse, and the smallest has a cylinder to feed too.
/// (supply.11) is Bernoulli's law of an orifice; (supply.12) the current of a coil that rises to
/// the value at which the needle lifts, V_opens 5.5 +- 1 V, c 0.15 +- 0.1 (from memory: 0.05 to 0.1
/// ms more per 100 kPa). Below V_opens it never opens. Effective pulses (without d) below some 0.7
/// ms are not repeated from squirt to squirt (common practice, no source).
#pragma once

#include <vector>

#include "base/units/points.h"

namespace fuelwright::physics::supply {

/// Where the injectors sit and how often they open: sequential (1 squirt in two turns), paired (2),
/// above the throttle (once for each intake stroke they share).
struct Arrangement {
  bool at_ports = true;
  int cylinders = 0;
  int injectors = 0;
  double squirts = 1;  ///< of one injector in two turns of the crank [-]
};
/// Time between two openings of one injector.
Duration squirt_period(const Arrangement& a, EngineSpeed n);
/// Pressure at the nozzle's tip: of the manifold at a port, of the open air above a throttle.
AbsolutePressure tip_pressure(const Arrangement& a, AbsolutePressure manifold,
                              AbsolutePressure ambient);

struct Injectors {
  MassFlow rated;  ///< of one
  PressureStep rated_pressure;
  Density rated_density;
  std::vector<double> match;  ///< each one's flow over rated [-]; not empty
  Duration dead_time;
  Voltage dead_time_voltage;
  Voltage opens = 5.5 * volt;
  double pressure_effect = 0.15;  ///< c
  double most_duty = 0.85;
  Duration least_pulse = 0.7 * ms;  ///< shortest effective pulse that is repeated
};

/// (supply.11) of an injector whose match is 1. Zero where the pressure is not above the tip's.
MassFlow injector_flow(const Injectors& in, PressureStep across, Density fuel);
/// The mean and the smallest of the match.
double mean_match(const Injectors& in);
double least_match(const Injectors& in);
/// (supply.12). A voltage at which it does not open gives a very long time (1 s).
Duration dead_time(const Injectors& in, Voltage volts, PressureStep across);
/// (supply.14): all injectors, so that the smallest one's cylinder gets its share. 0 or more.
MassFlow most_fuel(const Injectors& in, const Arrangement& a, EngineSpeed n, PressureStep across,
                   Density fuel, Voltage volts);

struct Pulse {
  Duration effective;  ///< without dead time
  Duration total;
  double duty = 0;  ///< above 1: it cannot be
  Duration left;    ///< of the period; negative: it cannot be
};
/// The pulse that feeds `fuel` (all cylinders) by (supply.13), mean injector.
Pulse pulse_for(const Injectors& in, const Arrangement& a, EngineSpeed n, MassFlow fuel,
                PressureStep across, Density density, Voltage volts);

}  // namespace fuelwright::physics::supply
