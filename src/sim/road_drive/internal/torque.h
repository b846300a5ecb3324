/// The torque of the invented engine, and the manifold pressure and throttle that a torque asks
/// for.
#pragma once

#include "sim/road_drive/truth.h"

namespace fuelwright::sim {

/// Torque at the flywheel [N m]: work of the charge less friction and pumping (road_drive.9).
double brake_torque_nm(const Truth& truth, double rpm, double map_pa, double coolant_k);
/// Lowest and highest manifold pressure the throttle can make at this speed [Pa].
double shut_pressure_pa(const Truth& truth, double rpm);
double open_pressure_pa(const Truth& truth, double rpm);
/// The pressure that gives this torque, held between those two [Pa].
double pressure_for_torque_pa(const Truth& truth, double rpm, double torque_nm, double coolant_k);
/// Throttle opening 0..1 that passes the engine's air at this pressure (road_drive.10).
double throttle_for(const Truth& truth, double rpm, double map_pa);

}  // namespace fuelwright::sim
