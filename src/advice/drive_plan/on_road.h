/// What the road asks of the engine: which engine speed and manifold pressure belong to a road
/// speed in a gear, and how fast the car gains speed at a manifold pressure.
///
///   F = rho/2 c_d A v^2 + c_r m g + m g s + m_e a,   T = F r/(i eta)               (drive_plan.1)
///   bmep = eta_i (VE p/(R T_i)) e_air - (p_a - p) - fmep,   T = bmep V_d/(4 pi)     (drive_plan.2)
///   fmep = 97 kPa + 15 kPa n/1000 + 5 kPa (n/1000)^2                               (drive_plan.3)
///
/// v road speed, s grade (rise over run), m_e mass with turning parts, a acceleration, r rolling
/// radius, i gear times axle, eta driveline 0.92; eta_i gross indicated efficiency, 0.80 of
/// 1 - compression^-0.28; e_air 2.93 MJ of fuel burnt per kg of air, nearly the same for all fuels
/// on petrol's side; VE by the table, T_i 20 degC.
/// Range: idle speed to rev limit. Limits: no converter slip, no load of its own by accessories;
/// about 10 % of pressure (one standard deviation, from memory), unless recordings were Seen.
/// Source: road load, textbook; friction, Barnes-Moss 1975 as in Heywood 1988, section 13.5;
/// efficiency against the fuel-air cycle, Heywood 1988, section 5.8 (all from memory).
/// Theory: docs/theory/drive_plan.md.
#pragma once

#include <optional>
#include <vector>

#include "advice/drive_plan/seen.h"
#include "car/build/sheet.h"
#include "car/tables/surface.h"

namespace fuelwright::advice {

class OnRoad {
 public:
  /// `ve`: the VE table in the unit, over engine speed and manifold pressure or vacuum; nullptr: a
  /// usual VE is taken. Both must outlive it.
  OnRoad(const car::Sheet& sheet, const car::Surface* ve, const Seen& seen = {})
      : sheet_(&sheet), ve_(ve), seen_(seen) {}

  const car::Sheet& sheet() const { return *sheet_; }
  int gears() const { return static_cast<int>(sheet_->car.gears.values.size()); }
  /// gear: 1 is the first.
  Speed road_speed(EngineSpeed n, int gear) const;
  EngineSpeed engine_speed(Speed v, int gear) const;

  /// At the crankshaft; negative where the engine is dragged.
  Torque torque(EngineSpeed n, AbsolutePressure manifold) const;
  /// That the road asks for at this engine speed, acceleration [m/s2] and grade.
  Torque asked(EngineSpeed n, int gear, double acceleration_m_s2, double grade) const;
  /// None if more than full throttle is asked, or less than the lowest that can be held (25 kPa).
  std::optional<AbsolutePressure> pressure_for(EngineSpeed n, Torque torque) const;
  std::optional<AbsolutePressure> pressure_of_hold(EngineSpeed n, int gear, double grade) const;
  /// [m/s2] at a manifold pressure; negative where the road asks for more.
  double acceleration(EngineSpeed n, int gear, AbsolutePressure manifold, double grade) const;
  /// Without a gear: road speed and engine over wheel speed [rad/m].
  Torque asked_at(Speed v, double ratio, double acceleration_m_s2, double grade) const;
  double ratio(int gear) const;  ///< engine over road speed [rad/m]
  /// Warm, standing, without load, each as likely as the others: where it was seen; or from what is
  /// computed (a usual 30 kPa where that says less) up to half again, for in gear, with cold oil or
  /// belts an engine idles higher.
  std::vector<AbsolutePressure> idle_pressures() const;
  /// 1 at 30 kPa and below, 0 at 60 kPa and above: of a computed pressure, how far Seen::low counts
  /// beside Seen::high.
  static double share_low(AbsolutePressure computed);
  /// Below it a warm engine is on the overrun: 25 kPa (from memory).
  static AbsolutePressure lowest_held();
  AbsolutePressure ambient() const { return sheet_->place.pressure.value; }

 private:
  double computed_pa(AbsolutePressure manifold) const;
  double ve(EngineSpeed n, AbsolutePressure manifold) const;

  const car::Sheet* sheet_;
  const car::Surface* ve_;
  Seen seen_;
};

}  // namespace fuelwright::advice
