/// A checked charge in plain numbers, as burn, cycle and spark share it.
#pragma once

#include "physics/combustion/combustion.h"
#include "physics/combustion/internal/gas.h"

namespace fuelwright::physics {

/// Slider-crank geometry in SI.
struct Slider {
  double piston_area, crank, rod, clearance, fixed_area, bore;
  explicit Slider(const CylinderShape& shape);

  double travel(double theta) const {  // of the piston from TDC [m]
    const double s = std::sin(theta), c = std::cos(theta);
    return crank + rod - crank * c - std::sqrt(rod * rod - crank * crank * s * s);
  }
  double volume(double theta) const { return clearance + piston_area * travel(theta); }
  /// Chamber and crown are 1.2 and 1.0 piston areas (from memory).
  double area(double volume_m3) const { return fixed_area + 4 / bore * (volume_m3 - clearance); }
};

struct Start {
  Slider slider;
  double swept, speed_rad_s, piston_speed;  // mean piston speed
  double theta, theta_open;                 // intake closing, exhaust opening, after TDC [rad]
  double mass, fuel, p, t, v;
};

/// Checks the charge; temperature from mass, pressure and volume.
Result<Start> start_of(const WorkingGas& gas, const ClosedCharge& charge);

/// Burn of a checked charge.
Burn burn_of(const WorkingGas& gas, const ClosedCharge& charge, const Start& start,
             double advance_rad, const CombustionUnstated& unstated);
/// The cycle of a checked charge; gas mixed with the residual.
ClosedCycle cycle_of(const WorkingGas& gas, const gas::ChargeGas& mixed, const ClosedCharge& charge,
                     const Start& start, double advance_rad, const CombustionUnstated& unstated,
                     const CycleSettings& settings);

Status check_advance(CrankAngle advance);

}  // namespace fuelwright::physics
