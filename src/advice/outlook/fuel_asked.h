/// What a place on the map asks of the injectors: fuel flow and duty cycle.
///
///   m_air = VE p V_d n / (120 R T)                                                    (outlook.1)
///   m_f   = m_air / (lambda AFR_st)                                                   (outlook.2)
///   dp    = regulator + reference - tip                                               (outlook.3)
///   duty  = m_f / (N q_ref sqrt(dp/dp_ref rho/rho_ref)) + s d0 n / 120                (outlook.4)
///
/// n rpm, p manifold pressure absolute, V_d displacement, T 20 degC, the intake air that the
/// table's VE holds for (0 degC asks for 3 to 7 % more), N injectors, s squirts a cycle, d0 dead
/// time. Reference: manifold or atmosphere by the regulator; tip: manifold with an injector at each
/// port, atmosphere above the throttle. No enrichment. Theory: docs/theory/outlook.md. Source:
/// speed-density air flow, Heywood 1988, section 2.10; square-root law (Bernoulli).
#pragma once

#include <optional>

#include "car/build/sheet.h"

namespace fuelwright::advice {

struct FuelAsked {
  MassFlow flow;    ///< of the whole engine
  double duty = 0;  ///< share of the time that an injector is open; above 1: not to be had [-]
};

/// None if nothing is left to press the fuel through the injectors (dp <= 0). Speed, pressure, VE
/// and lambda above 0 (broken contract otherwise).
std::optional<FuelAsked> fuel_asked(const car::Sheet& sheet, EngineSpeed speed,
                                    AbsolutePressure manifold, AbsolutePressure ambient, double ve,
                                    car::Lambda mixture);

}  // namespace fuelwright::advice
