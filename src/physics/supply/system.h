/// One fuel system, every part a number: tank, pump, wiring, filter, hose, regulator, injectors.
///
///   tank -> suction -> PUMP -> filter -> hose -> rail -> injectors -> ports or throttle
///                                                  \-> regulator -> return hose -> tank
///   returnless: the regulator stands behind the filter, and the hose carries only what is burnt
///   with a surge tank: lift pump -> surge tank, from which the pump draws
#pragma once

#include "physics/supply/injector.h"
#include "physics/supply/line.h"
#include "physics/supply/liquid.h"
#include "physics/supply/pump.h"
#include "physics/supply/wiring.h"

namespace fuelwright::physics::supply {

struct Regulator {
  bool follows_manifold = true;  ///< otherwise it measures against the open air
  PressureStep setting;          ///< above its reference
  bool at_tank = false;          ///< returnless
  Pipe return_hose;
};

/// What the pump draws from: below the vapour pressure there the fuel boils, and the pump fills
/// with vapour.
struct Inlet {
  Pipe suction;
  PressureStep height{};            ///< of the fuel above the pump; negative: it must be lifted
  PressureStep needed = 4.0 * kPa;  ///< above vapour pressure for a pump to fill (from memory)
};

struct Lift {
  VolumeFlow flow{};  ///< as it delivers in the car; 0: there is none
  Volume surge{};
};

struct System {
  Arrangement arrangement;
  Injectors injectors;
  Regulator regulator;
  Pump pump;
  Wiring wiring;
  Pipe hose;
  Filter filter;
  Inlet inlet;
  Lift lift;
  Liquid liquid;
  Temperature tank = celsius(40);                   ///< of the fuel, hottest
  TemperatureStep rail_warmer = 8.0 * kelvin_step;  ///< fuel at the rail over the tank's (memory)
  AbsolutePressure ambient;
  double stoichiometric = 0;  ///< mass of air per mass of fuel [-]
  double lambda = 1;          ///< at full throttle

  Temperature rail() const { return tank + rail_warmer; }
  Density rail_density() const { return density_at(liquid, rail()); }
  Density tank_density() const { return density_at(liquid, tank); }
};

/// What an engine asks of it at one speed.
struct Need {
  EngineSpeed speed;
  AbsolutePressure manifold;
  MassFlow fuel;
};

}  // namespace fuelwright::physics::supply
