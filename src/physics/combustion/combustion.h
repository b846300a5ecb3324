/// Combustion: what a charge shut in the cylinder does: burn, knock, push, heat; and what is left
/// at the crankshaft, with 95 % half-widths from what the model does not know.
///
///   FW_TRY(const WorkingGas gas, working_gas(fuel, car::lambda(0.88)));      // once per mixture
///   FW_TRY(const BrakePoint point, brake(gas, charge, engine, pumping, {}));
///   point.torque.value.in(newton_metre);  point.torque.half_width;  point.spark.degrees();
///
/// Two zones (fresh charge, burnt gas in equilibrium), Wiebe burn, Woschni heat, a flame-speed
/// scaling of the burn duration, an ignition-delay integral for knock, friction by parts. No
/// crevice flow, no blow-by. Theory, sources and misses: docs/theory/combustion.md.
#pragma once

#include <memory>
#include <span>

#include "base/result.h"
#include "base/units/points.h"
#include "car/fuel/chemistry.h"
#include "car/fuel/mixture.h"

namespace fuelwright::physics {

using Energy = Torque;                      ///< the same dimension: joule
using SpecificEnergy = Quantity<2, 0, -2>;  ///< per mass
inline constexpr Unit<2, 1, -2> joule{1.0};
inline constexpr Unit<2, 0, -2> MJ_per_kg{1e6}, kJ_per_kg{1e3};
using FuelPerWork = Quantity<-2, 0, 2>;  ///< brake specific fuel consumption
inline constexpr Unit<-2, 0, 2> g_per_kWh{1e-3 / 3.6e6},
    lb_per_hp_h{0.45359237 / (745.6998715822702 * 3600)};

/// A value and its 95 % half-width.
template <class Value, class Width = Value>
struct Estimate {
  Value value{};
  Width half_width{};
};

// ---------------------------------------------------------------------------------------------
// Gas

struct BurningFuel {
  car::Composition elements;
  SpecificEnergy heating_value;   ///< lower, of the vapour: its own evaporation is not counted
  double stoichiometric_afr = 0;  ///< mass of air per mass of fuel, by (fuel.1) [-]
};
/// Lower heating value from the elements by Mendeleev's formula (from memory; +-2 %):
///   H_u = 33.91 C + 125.6 H - 10.89 O - 2.51 * 9 H  [MJ/kg], shares by mass      (combustion.1)
SpecificEnergy typical_heating_value(const car::Composition& elements);
/// Errors: those of stoichiometric_afr(); out_of_range unless 10..60 MJ/kg.
Result<BurningFuel> burning_fuel(const car::Composition& elements);
Result<BurningFuel> burning_fuel(const car::Composition& elements, SpecificEnergy heating_value);

namespace gas {
struct GasTables;
}
/// Gas properties of one fuel at one lambda. Making it costs about a millisecond: make it once per
/// mixture, then share it between threads.
struct WorkingGas {
  std::shared_ptr<const gas::GasTables> tables;
  BurningFuel fuel;
  car::Lambda lambda;
};
/// Burnt gas by equilibrium of ten species, frozen below 1700 K                      (combustion.2)
/// Errors: out_of_range unless 0.6 <= lambda <= 1.8.
Result<WorkingGas> working_gas(const BurningFuel& fuel, car::Lambda lambda);

// ---------------------------------------------------------------------------------------------
// Charge

struct CylinderShape {
  Length bore;             ///< 30..250 mm
  Length stroke;           ///< 30..300 mm
  Length rod;              ///< between centres, 1.1..4 strokes
  double compression = 0;  ///< 4..20
  friend bool operator==(const CylinderShape&, const CylinderShape&) = default;
};
/// Swept volume of one cylinder; volume over the piston with the crank `after_tdc`.
Volume swept_volume(const CylinderShape& shape);
Volume cylinder_volume(const CylinderShape& shape, CrankAngle after_tdc);

/// How fast the chamber burns, from its kind alone.
enum class Chamber {
  two_valve,
  pent_roof
};  ///< wedge, bathtub or open; pent roof with four valves

/// The charge when the intake valve shuts, one cylinder.
struct ClosedCharge {
  CylinderShape shape;
  Chamber chamber = Chamber::two_valve;
  EngineSpeed speed;          ///< 200..14,000 rpm
  Mass air;                   ///< fresh air trapped
  double residual = 0;        ///< burnt share of all gas trapped, by mass, 0..0.9 [-]
  AbsolutePressure pressure;  ///< 5..600 kPa
  /// 230..900 K; only compared with what pressure, mass and volume say (weaker known than these).
  Temperature temperature;
  CrankAngle closing;          ///< after firing TDC, -180..-60 deg, or 720 deg more
  CrankAngle exhaust_opening;  ///< after firing TDC, 60..180 deg
  AbsolutePressure exhaust_pressure = absolute(101.325 * kPa);
  Temperature wall = kelvin(440);  ///< mean of piston, head and liner (from memory, 400..480)
};

/// What nobody knows of this engine: factors on the textbook constants (1 or 0 = as published).
struct CombustionUnstated {
  double burn = 1;             ///< on both burn angles [-]
  double heat = 1;             ///< on Woschni [-]
  double completeness = 0.97;  ///< share of the charge that burns: crevices, quench [-]
  double friction = 1;         ///< on friction [-]
  double octane_shift = 0;     ///< added to the effective octane number [-]
  double end_gas_shift_k = 0;  ///< added to the end gas where knock is computed [K]
  friend bool operator==(const CombustionUnstated&, const CombustionUnstated&) = default;
};
struct CombustionSpread {
  const char* name;
  double CombustionUnstated::* at;
  double half_width;  ///< 95 %, in the unit of the member
  const char* source;
};
std::span<const CombustionSpread> combustion_spreads();

// ---------------------------------------------------------------------------------------------
// Burn

enum class BurnVerdict { sound, partial, misfire };

struct Burn {
  CrankAngle development;   ///< spark to 10 % burnt                                  (combustion.4)
  CrankAngle rapid;         ///< 10 to 90 % burnt                                     (combustion.5)
  CrankAngle start;         ///< of the Wiebe curve, after TDC
  CrankAngle duration;      ///< of the whole Wiebe curve, 0 to 99.3 %
  CrankAngle ca50;          ///< half burnt, after TDC
  double completeness = 0;  ///< share of the charge that burns at all [-]
  Speed laminar_at_spark;   ///< laminar flame speed                                  (combustion.3)
  BurnVerdict verdict = BurnVerdict::sound;
};
/// Wiebe's curve 1 - exp(-5 z^3), z of the burn duration, 0..1 [-]                   (combustion.6)
double wiebe(double z);
/// Laminar flame speed of petrol in air with burnt gas, for the unburnt state. Source: Rhodes and
/// Keck, SAE 850047, as in Heywood 1988, section 9.3.4 (from memory), smoothed at the ends.
Speed laminar_speed(car::Lambda lambda, double residual, AbsolutePressure p, Temperature unburnt);
/// Burn of the charge for a spark `advance` before TDC (-60..90 deg). Errors: out_of_range, naming
/// the member of the charge. Verdict: partial from dilution index 0.73, misfire from 1
/// (combustion.7)
Result<Burn> burn(const WorkingGas& gas, const ClosedCharge& charge, CrankAngle advance,
                  const CombustionUnstated& unstated = {});

// ---------------------------------------------------------------------------------------------
// Closed cycle

struct ClosedCycle {
  Burn burn;
  /// Work over the compression and expansion strokes, over V_d: the integral from intake closing to
  /// exhaust opening, plus two short ends by rule (combustion.12)
  PressureStep gross_imep;
  AbsolutePressure peak;
  CrankAngle peak_at;                 ///< after TDC
  AbsolutePressure opening_pressure;  ///< when the exhaust valve opens
  Temperature opening_temperature;    ///< mean of the cylinder then
  Temperature exhaust;                ///< leaving the cylinder, mean by enthalpy (combustion.13)
  double knock_integral = 0;          ///< at 90 % burnt; knocks above 1 [-]      (combustion.10)
  double combustion_efficiency = 0;   ///< share of the fuel's heat set free [-]
  /// The ledger, intake closing to exhaust opening: start - work - walls = end       (combustion.8)
  struct Ledger {
    Energy fuel;         ///< heating value of the fuel in the charge
    Energy start, end;   ///< internal energy, from the gas states alone
    Energy work, walls;  ///< done on the piston, lost to the walls
  } ledger;
  Mass trapped, fuel;
};
struct CycleSettings {
  double grid = 1;    ///< factor on the steps of 2 deg (1 deg while it burns)
  double octane = 0;  ///< effective octane number; 0: no knock integral
};
/// Errors: those of burn().
Result<ClosedCycle> closed_cycle(const WorkingGas& gas, const ClosedCharge& charge,
                                 CrankAngle advance, const CombustionUnstated& unstated = {},
                                 const CycleSettings& settings = {});

/// Woschni's heat transfer coefficient [W/(m2 K)], bore m, kPa, K, m/s inside:
///   h = 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8                                             (combustion.9)
struct HeatTransfer {
  double w_per_m2_k = 0;
};
HeatTransfer woschni(Length bore, AbsolutePressure p, Temperature mean, Speed gas_speed);

// ---------------------------------------------------------------------------------------------
// Spark and knock

/// Ignition delay of Douaud and Eyzat, SAE 780080 (from memory), p in atmospheres:
///   tau = 17.68 ms (ON/100)^3.402 p^-1.7 exp(3800/T) (combustion.10)
Duration knock_delay(double octane, AbsolutePressure p, Temperature end_gas);
/// The number that goes in: (RON + MON)/2, MON = RON - sensitivity (combustion.11)
double effective_octane(double ron, double sensitivity = 9);

struct SparkSettings {
  double ron = 95;            ///< of the fuel
  double ron_half_width = 1;  ///< 95 %
  double sensitivity = 9;     ///< RON - MON; 8..10 for petrol (common practice)
  double sensitivity_half_width = 2;
  CrankAngle margin = crank_degrees(2);  ///< kept from the knock limit
  bool intervals = true;                 ///< false: half-widths are 0 and it is 6 times faster
};

struct SparkChoice {
  CrankAngle mbt;          ///< advance of best torque
  CrankAngle knock_limit;  ///< largest advance without knock; above mbt + 15 deg: mbt + 15 deg
  CrankAngle used;         ///< the smaller of mbt and knock_limit - margin
  bool knock_limited = false;
  bool at_bound =
      false;  ///< mbt is held at 60 deg (or 5 deg after closing): the charge asks for more
  CrankAngle knock_limit_half_width;  ///< 95 %, from octane, sensitivity and end-gas temperature
  double knock_chance = 0;            ///< that `used` knocks all the same [-]
  ClosedCycle cycle;                  ///< with the spark used
  ClosedCycle best;                   ///< with the spark of best torque
};
Result<SparkChoice> spark(const WorkingGas& gas, const ClosedCharge& charge,
                          const SparkSettings& settings = {},
                          const CombustionUnstated& unstated = {});
/// Indicated work with the spark retarded from best torque, over that of best torque [-].
Result<double> retard_ratio(const WorkingGas& gas, const ClosedCharge& charge, CrankAngle mbt,
                            CrankAngle retard, const CombustionUnstated& unstated = {});

// ---------------------------------------------------------------------------------------------
// Friction

enum class ValveTrain { direct_overhead, finger_overhead, rocker_overhead, pushrod };

struct EngineBuild {
  CylinderShape shape;
  int cylinders = 0;      ///< 1..16
  int valves = 2;         ///< per cylinder, 2..5
  int main_bearings = 0;  ///< 0: cylinders + 1 in line, cylinders/2 + 1 in a vee
  bool vee = false;
  Length valve_lift = 10 * mm;  ///< largest, at the valve
  ValveTrain train = ValveTrain::pushrod;
};
struct Friction {
  PressureStep crankshaft, reciprocating, gas_load, valve_train, accessories;
  PressureStep total() const {
    return crankshaft + reciprocating + gas_load + valve_train + accessories;
  }
};
/// Friction mean effective pressure, without pumping. Source: Patton, Nitschke and Heywood, SAE
/// 890836 (from memory; spread +-20 %); bearing sizes typical of the bore. (combustion.14)
Result<Friction> friction(const EngineBuild& engine, EngineSpeed speed,
                          AbsolutePressure intake = absolute(100 * kPa));

// ---------------------------------------------------------------------------------------------
// Crankshaft

struct BrakePoint {
  Estimate<Torque> torque;
  Estimate<Power> power;
  Estimate<PressureStep> bmep;
  PressureStep gross_imep, friction, pumping;
  Estimate<MassFlow> fuel_flow;
  Estimate<FuelPerWork> bsfc;  ///< 0 when the engine gives no power
  Estimate<Temperature, TemperatureStep> exhaust;
  CrankAngle spark;  ///< advance used
  CrankAngle spark_half_width;
  SparkChoice choice;
  double combustion_efficiency = 0;
};
/// One operating point of the whole engine. pumping: work lost over the exhaust and intake strokes,
/// over V_d. Errors: those of burn(), spark(), friction(); out_of_range if the charge is of another
/// cylinder than the engine's. Half-widths: root of the sum of squares of the effect of each spread
/// (combustion.15)
Result<BrakePoint> brake(const WorkingGas& gas, const ClosedCharge& charge,
                         const EngineBuild& engine, PressureStep pumping,
                         const SparkSettings& settings = {},
                         const CombustionUnstated& unstated = {});

/// What mixture b costs against a, with the same air and temperature and its own best spark.
struct MixtureCost {
  double torque = 0;  ///< brake torque of b over a, less 1 [-]
  double fuel = 0;    ///< fuel flow of b over a, less 1 [-]
  double bsfc = 0;    ///< fuel per work of b over a, less 1 (the price at the same torque) [-]
  CrankAngle spark;   ///< advance of b less a
  TemperatureStep exhaust;
  double indicated_half_width = 0;  ///< 95 %, of torque, from burn, heat and completeness [-]
};
Result<MixtureCost> mixture_cost(const WorkingGas& a, const WorkingGas& b,
                                 const ClosedCharge& charge_of_a, const EngineBuild& engine,
                                 PressureStep pumping, const SparkSettings& settings = {});

}  // namespace fuelwright::physics
