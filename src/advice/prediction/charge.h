/// From the air map to the burn: what stands in the cylinder when the intake valve shuts, and the
/// engine around it.
#pragma once

#include "base/result.h"
#include "car/build/sheet.h"
#include "physics/breathing/breathing.h"
#include "physics/combustion/combustion.h"

namespace fuelwright::advice {

/// What combustion needs to know of the sheet, made once.
struct Burner {
  physics::EngineBuild engine;
  physics::Chamber chamber = physics::Chamber::two_valve;
  physics::BurningFuel fuel;
  physics::SparkSettings spark;
  CrankAngle exhaust_opening;
  AbsolutePressure ambient;
  double stoichiometric = 14.6;  ///< of the fuel in the tank [-]
};
/// Errors: those of engine_model() and burning_fuel(); bad_input for a fuel whose chemistry is not
/// known.
Result<Burner> burner_of(const car::Sheet& sheet);

/// The charge at a node of the map. Pressure from mass, temperature and volume, so that the three
/// agree.
physics::ClosedCharge charge_at(const Burner& burner, const physics::AirNode& node);

/// A node between those of a map: every amount bilinear in speed and pressure, edges hold.
/// Reachable only where all the nodes around it are.
physics::AirNode node_between(const physics::AirMap& map, EngineSpeed speed,
                              AbsolutePressure pressure);

}  // namespace fuelwright::advice
