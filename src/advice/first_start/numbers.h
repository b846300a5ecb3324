/// Figures of a first start that follow from the sheet, the place and the calibration by hand
/// calculation: compression, cranking, pulse, warm-up.
///
///   p_end = p_s (1 + (r - 1) s_ivc)^n - p_s,  n 1.20..1.30                        (first_start.1)
///   Cd A psi(p_m/p_s) p_s/sqrt(R T) = eta p_m V_d N/(120 R T)                     (first_start.2)
///   t = m z/(n s q) + d(V),  q = q_0 sqrt(dp/dp_0)                                (first_start.3)
///   t_warm = C V_d (T - T_0)/(h m_f H_u)                                          (first_start.4)
///
/// p_s station pressure, s_ivc share of the stroke left when the intake valve shuts (0.006 in), n
/// less than 1.4 for heat and leaks at cranking speed; Cd A what the idle passage and the throttle
/// stop let through, eta 0.75; m cranking fuel a cylinder and cycle, z cylinders, n injectors, s
/// squirts in two turns; C 18 to 28 kJ/K a litre of displacement, h 0.35 to 0.50 of the fuel's heat
/// to metal and coolant. n, eta, C and h are from memory. Theory: docs/theory/first_start.md.
#pragma once

#include <optional>

#include "base/units/electric.h"
#include "base/units/points.h"
#include "car/build/sheet.h"
#include "car/tables/calibration.h"
#include "physics/ensemble/ensemble.h"

namespace fuelwright::advice {

/// (first_start.1): gauge pressure of one cylinder, throttle open, warm battery [Pa].
physics::Interval cranking_compression_pa(const car::Sheet& sheet, AbsolutePressure station);
/// Share of the stroke that is left to compress when the intake valve has shut, 0..1.
double stroke_left_at_intake_closing(const car::Sheet& sheet);

/// What a sound starter and battery turn [rpm]: 150..250, 100..200 below freezing (common practice,
/// no source).
physics::Interval cranking_speed_rpm(Temperature air);

/// (first_start.2): manifold pressure while the starter turns the engine with the pedal up, at
/// cranking_speed_rpm(). None without idle air in the calibration. `idle_map`: where that air was
/// passed, warm; `factor`: more air while cold, of CurveWhat::idle_air.
std::optional<physics::Interval> cranking_map_pa(const car::Sheet& sheet,
                                                 const car::Calibration& calibration,
                                                 AbsolutePressure station, Temperature air);
/// Pressure downstream of `area` from which an engine draws `volume` of cylinders at `speed`.
AbsolutePressure drawn_down_to(Area area, Volume displacement, EngineSpeed speed,
                               AbsolutePressure station, Temperature air);

/// (first_start.3)
struct CrankingPulse {
  physics::Interval pulse_s;  ///< 11 V and a large injector to 9 V and a small one; middle 10 V
  double fuel_kg = 0;         ///< of one cylinder and cycle
  double times_stoichiometric = 0;  ///< over what the air of a cylinder would burn
  PressureStep across{};
  MassFlow flow{};  ///< of one injector held open, at that pressure
};
/// None without cranking fuel and injector flow in the calibration. `map`: while cranking.
std::optional<CrankingPulse> cranking_pulse(const car::Sheet& sheet,
                                            const car::Calibration& calibration,
                                            Temperature coolant, AbsolutePressure map,
                                            AbsolutePressure station);

/// Rail over the nozzle's surroundings, and what a gauge on the rail shows above ambient.
struct RailPressure {
  PressureStep across{};
  PressureStep on_gauge{};
};
RailPressure rail_at(const car::Sheet& sheet, AbsolutePressure map, AbsolutePressure station);

/// (first_start.4) from `from` to `to` with this air and mixture [s].
physics::Interval warm_up_s(const car::Sheet& sheet, MassFlow air, car::Lambda mixture,
                            Temperature from, Temperature to);

}  // namespace fuelwright::advice
