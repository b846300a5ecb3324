/// What the engine asks for: air, and from it fuel.
///
///   fuel = air/(lambda AFR_st) (supply.17) rule of thumb: fuel = BSFC power, BSFC 0.45 to 0.50
///   lb/(hp h), boosted 0.55 to 0.65, times 14.6/AFR_st for other fuels common practice, no source
///   (supply.18)
///
/// Air comes from the engine model as plain series, one for each engine that could be this one; the
/// rule of thumb is printed beside the answer and never used for it.
#pragma once

#include <cstdint>
#include <vector>

#include "base/result.h"
#include "base/units/points.h"
#include "car/fuel/mixture.h"

namespace fuelwright::physics::supply {

/// Warm idle.
struct IdleDemand {
  EngineSpeed speed{};
  AbsolutePressure manifold{};
  std::vector<MassFlow> air;  ///< of each engine; empty: idle is not looked at
  car::Lambda lambda{0.92};
};

/// Full throttle.
struct Demand {
  std::vector<EngineSpeed> speeds;         ///< increasing, 2 or more
  std::vector<AbsolutePressure> manifold;  ///< at each speed
  std::vector<std::vector<MassFlow>> air;  ///< [engine][speed], through the intake valves
  std::vector<std::vector<Power>> power;   ///< [engine][speed], at the crank
  bool boosted = false;                    ///< which rule of thumb stands beside it
  IdleDemand idle;
};
/// Errors: bad_input where sizes do not go together, nothing is there, speeds do not increase, or a
/// number is negative or not finite.
Status check(const Demand& demand);

/// (supply.17)
MassFlow fuel_for(MassFlow air, car::Lambda mixture, double stoichiometric);

struct RuleOfThumb {
  MassFlow low, high;
};
/// (supply.18)
RuleOfThumb rule_of_thumb(Power power, double stoichiometric, bool boosted);

/// The same engines with pressure behind the throttle:
///
///   r = (p + boost)/p,  T2 = T1 (1 + (r^0.2857 - 1)/eta),  T3 = T2 - e (T2 - T1)
///   air = air r T1/T3 (1 + fill),  power = power air ratio - drive                     (supply.19)
///   drive = air cp (T2 - T1)/0.9
///
/// eta 0.60 +- 0.12 of the blower, e of the cooler (0 none, 0.65 +- 0.1 usual), fill 2 +- 3 % for
/// cylinders that are swept clean by pressure (from memory): drawn for each engine, seeded. Density
/// ratio as Rajput, Internal Combustion Engines, ex. 16.1. A model of the blower itself may make
/// the series instead.
struct Boost {
  PressureStep pressure{};
  bool cooler = false;
  bool driven = true;  ///< by the crank; otherwise by the exhaust
  Temperature intake = celsius(25);
};
/// Errors: out_of_range unless 0..300 kPa.
Result<Demand> boosted(const Demand& demand, const Boost& boost, std::uint64_t seed);
/// Lambda at full throttle under boost: at most 0.80 +- 0.02 (11.5 to 12.0 on the 14.7 scale;
/// common practice, no source).
inline constexpr double kBoostedLambda = 0.80;

}  // namespace fuelwright::physics::supply
