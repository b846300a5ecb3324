/// One engine in the numbers the flow model needs, plain SI doubles. Made by engine_model() from a
/// sheet.
#pragma once

#include <array>
#include <vector>

#include "physics/breathing/breathing.h"

namespace fuelwright::physics {

inline constexpr int kCycleDegrees = 720;

/// Orifice area times flow coefficient of all valves of one kind of one cylinder, at every crank
/// degree after firing top dead centre [m2]; shut is exactly 0.
struct ValveArea {
  std::array<double, kCycleDegrees> forward{};  ///< into the cylinder (intake), out of it (exhaust)
  std::array<double, kCycleDegrees> reverse{};
  double opens_deg = 0;  ///< first degree with an area above 0; may exceed 720 where it wraps
  double shuts_deg = 0;  ///< last degree, > opens
};

enum class Manifold { four_into_one, four_two_one, log };

struct EngineModel::Parts {
  int cylinders = 1;
  double bore_m = 0, stroke_m = 0, rod_m = 0, compression = 0;
  double swept_m3 = 0;  ///< one cylinder
  double clearance_m3 = 0;
  std::vector<double>
      firing_deg;           ///< per cylinder: its firing top dead centre, 0..720, cylinder 1 at 0
  std::vector<int> bank;    ///< per cylinder, 0-based: which collector it blows into
  std::vector<int> plenum;  ///< per cylinder, 0-based: which plenum it breathes from
  int plenums = 1;          ///< 1 shared, 2 divided, cylinders with individual throttles

  ValveArea intake, exhaust;
  double intake_lift_max_m = 0;

  std::vector<double> runner_m;  ///< per cylinder, valve to plenum
  double runner_mean_m = 0;
  double runner_area_m2 = 0;            ///< of one cylinder
  double plenum_m3 = 0;                 ///< all plenums together
  double throttle_area_m2 = 0;          ///< all throttles wide open, flow coefficient in it
  double duct_m = 0, duct_area_m2 = 0;  ///< from the open air to the throttle

  Manifold manifold = Manifold::four_into_one;
  double primary_m = 0, primary_area_m2 = 0;
  double secondary_m = 0, secondary_area_m2 = 0;  ///< four_two_one only
  double collector_m = 0, collector_area_m2 = 0;
  double back_pressure_pa = 0;    ///< after the collector, above ambient, at back_pressure_kg_s
  double back_pressure_kg_s = 0;  ///< exhaust of the whole engine at rated power

  double stoichiometric = 14.6;  ///< of the fuel in the tank
  double heating_j_kg = 43e6;    ///< lower heating value of the fuel
  double vaporising_j_kg = 350e3;
  double fuel_molar_kg = 0.1;  ///< mean molar mass of the fuel's vapour [kg/mol]
  Unstated unstated;
};

}  // namespace fuelwright::physics
