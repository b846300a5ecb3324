/// The build sheet: the parts fitted to one car, each a value with a tolerance and a source.
///
/// A Sheet is always complete: what the owner did not say has been filled in from the spread of
/// such engines and is marked typical, with its rule. Reading and writing: sheet_file.h. The keys,
/// their units, limits and rules stand in one table (internal/keys*.cc); docs/sheet.md lists them.
///
/// Typical values are filled one by one: a tolerance is the spread of that value alone. Where two
/// are tied (bore and stroke by the displacement), whoever draws engines from the sheet must keep
/// the tie; see derived.h.
#pragma once

#include <string>
#include <vector>

#include "base/units/electric.h"
#include "car/build/known.h"
#include "car/tables/axis.h"

namespace fuelwright::car {

struct Engine {
  Chosen<std::string> name;
  Known<int> cylinders;
  Known<int> banks;
  Known<Volume> displacement;  ///< all cylinders
  Known<Length> bore;
  Known<Length> stroke;
  Known<double> compression;  ///< geometric compression ratio [-]
  Known<Length> rod_length;   ///< centre to centre
  Listed<int> firing_order;
  friend bool operator==(const Engine&, const Engine&) = default;
};

struct Heads {
  Known<int> valves_per_cylinder;
  Known<Length> intake_valve;   ///< head diameter of one valve
  Known<Length> exhaust_valve;  ///< head diameter of one valve
  Known<PressureStep> flow_depression;
  Listed<Length> flow_lift;         ///< valve lifts of the flow bench
  Listed<VolumeFlow> flow_intake;   ///< per cylinder, all its intake valves, air at the bench
  Listed<VolumeFlow> flow_exhaust;  ///< per cylinder, all its exhaust valves
  friend bool operator==(const Heads&, const Heads&) = default;
};

enum class Tappet : std::uint8_t {
  hydraulic_flat,
  hydraulic_roller,
  solid_flat,
  solid_roller,
  direct
};

struct Cam {  ///< durations in crank degrees at the tappet; lifts at the valve
  Chosen<Tappet> tappet;
  Known<double> rocker_ratio;
  Known<CrankAngle> intake_duration_050;  ///< at 0.050 in (1.27 mm) tappet lift
  Known<CrankAngle> exhaust_duration_050;
  Known<CrankAngle> intake_advertised;  ///< at 0.006 in
  Known<CrankAngle> exhaust_advertised;
  Known<CrankAngle> intake_duration_200;  ///< at 0.200 in
  Known<CrankAngle> exhaust_duration_200;
  Known<Length> intake_lift;            ///< at the valve, before lash
  Known<Length> exhaust_lift;           ///< at the valve, before lash
  Known<CrankAngle> lobe_separation;    ///< between the lobe centres, in cam degrees
  Known<CrankAngle> intake_centreline;  ///< crank degrees after overlap top dead centre
  Known<Length> intake_lash;            ///< at the valve
  Known<Length> exhaust_lash;           ///< at the valve
  friend bool operator==(const Cam&, const Cam&) = default;
};

enum class IntakeArrangement : std::uint8_t { shared_plenum, two_plane, individual_throttles };

struct Intake {
  Chosen<IntakeArrangement> arrangement;
  Known<Length> runner_length;    ///< valve to plenum, port included; the mean if they differ
  Listed<Length> runner_lengths;  ///< one a cylinder, cylinder 1 first
  Known<Length> runner_diameter;  ///< of a round pipe with the runner's area
  Known<Volume> plenum_volume;
  Known<int> throttle_count;
  Known<Length> throttle_diameter;  ///< of one throttle
  Known<Length> duct_length;        ///< open air (or air cleaner) to throttle
  Known<Length> duct_diameter;      ///< of one round pipe with the area of all ducts together
  friend bool operator==(const Intake&, const Intake&) = default;
};

/// Where the primaries of one bank meet: all in one collector, in pairs and the pairs again
/// (tri-Y), or one after another along a cast pipe.
enum class ExhaustArrangement : std::uint8_t { four_into_one, four_two_one, log };

struct Exhaust {
  Chosen<ExhaustArrangement> arrangement;
  Known<Length> primary_length;
  Known<Length> primary_diameter;    ///< inside
  Known<Length> secondary_length;    ///< from a pair's meeting to the collector (four_two_one only)
  Known<Length> secondary_diameter;  ///< inside (four_two_one only)
  Known<Length> collector_length;    ///< from where the pipes meet to the first wide place
  Known<Length> collector_diameter;  ///< inside
  Known<GaugePressure> back_pressure;  ///< before the collector's pipe, at full power
  friend bool operator==(const Exhaust&, const Exhaust&) = default;
};

enum class InjectionArrangement : std::uint8_t { ports, throttle };
enum class RegulatorReference : std::uint8_t { manifold, atmosphere };

struct Injection {
  Chosen<InjectionArrangement> arrangement;
  Known<int> injector_count;
  Known<PressureStep> injector_pressure;  ///< across the injector, where its flow is stated
  Known<Density> rated_density;           ///< of the fluid its flow was measured with
  Known<MassFlow> injector_flow;    ///< one injector, held open, rated fluid at injector_pressure
  Known<double> squirts_per_cycle;  ///< of one injector per 720 crank degrees [-]
  Known<Duration> dead_time;        ///< at dead_time_voltage and injector_pressure
  Known<Voltage> dead_time_voltage;
  Chosen<RegulatorReference> regulator_reference;
  Known<PressureStep> regulator_pressure;  ///< above its reference
  Known<VolumeFlow> pump_flow;             ///< at pump_pressure and pump_voltage
  Known<PressureStep> pump_pressure;
  Known<Voltage> pump_voltage;
  Known<Voltage> pump_wiring_drop;  ///< lost between battery and pump while it runs
  friend bool operator==(const Injection&, const Injection&) = default;
};

enum class PumpPlace : std::uint8_t { tank, outside };
/// Where the regulator spills: behind the rail, with a return line, or at the tank (returnless).
enum class RegulatorPlace : std::uint8_t { rail, tank };

/// From the tank to the rail: what lies before and behind the pump, its wiring, and what was
/// measured of it. Flow, pressure and voltage of the pump's rating stand in Injection.
struct Supply {
  Known<int> pump_count;  ///< alike, side by side; the ratings are those of one
  Listed<PressureStep> pump_curve_pressure;
  Listed<VolumeFlow> pump_curve_flow;  ///< of one pump at these pressures and pump_voltage
  Known<Current> pump_current;         ///< of one pump at pump_pressure and pump_voltage
  Known<Voltage> charging_voltage;     ///< at the battery, engine pulling
  Known<Area> wire_area;               ///< of the conductor that feeds the pumps
  Known<Length> wire_length;           ///< one way, battery to pump
  Known<Length> ground_length;         ///< of the wire from the pump to body or battery
  Known<Voltage> contact_drop;         ///< relay, fuse, plugs and body, at pump_current of all
  Known<Voltage> pump_volts;           ///< at the pump while it runs at pressure
  Chosen<PumpPlace> pump_place;
  Known<Length> suction_length;  ///< tank to pump
  Known<Length> suction_diameter;
  Known<Length> hose_length;  ///< pump to rail
  Known<Length> hose_diameter;
  Known<PressureStep> filter_loss;  ///< at the flow of all pumps' rating
  Chosen<RegulatorPlace> regulator_place;
  Known<Length> return_length;
  Known<Length> return_diameter;
  Known<VolumeFlow> lift_flow;  ///< of a lift pump that fills a surge tank; 0: none
  Known<Volume> surge_volume;
  Known<Temperature> fuel_temperature;      ///< hottest, in the tank
  Known<AbsolutePressure> vapour_pressure;  ///< Reid: at 37.8 degC
  Listed<double> injector_match;            ///< flow of each injector over injector_flow [-]
  Known<double> most_duty;                  ///< largest duty cycle that may be used [-]
  Known<VolumeFlow> delivery_flow;          ///< timed into a can, through the car's own line
  Known<PressureStep> delivery_pressure;    ///< at the rail meanwhile
  Known<Voltage> delivery_volts;            ///< at the pump meanwhile
  friend bool operator==(const Supply&, const Supply&) = default;
};

enum class IgnitionKind : std::uint8_t { distributor, wasted_spark, coil_per_plug };

struct Ignition {
  Chosen<IgnitionKind> kind;
  Known<CrankAngle> full_throttle_advance;  ///< before top dead centre, near rated speed
  friend bool operator==(const Ignition&, const Ignition&) = default;
};

struct FuelInTank {
  Chosen<std::string> name;      ///< canonical: "E10"; fuel_named() gives its chemistry
  Known<double> stoichiometric;  ///< mass of air per mass of fuel [-]
  Known<Density> density;
  Known<double> octane;  ///< research octane number
  friend bool operator==(const FuelInTank&, const FuelInTank&) = default;
};

struct MixtureSensor {
  Chosen<std::string> name;
  Chosen<MixtureScale> scale;  ///< asked for, never typical
  Listed<int> cylinders;       ///< those whose exhaust it sees
  Known<int> bank;             ///< 0: sees all banks
  Known<Length> distance;      ///< along the pipe from the exhaust valves
  friend bool operator==(const MixtureSensor&, const MixtureSensor&) = default;
};

struct Sensors {
  Known<AbsolutePressure> map_low;     ///< lowest pressure the MAP sensor can read
  Known<AbsolutePressure> map_high;    ///< highest
  std::vector<MixtureSensor> mixture;  ///< as stated; none is a valid answer
  friend bool operator==(const Sensors&, const Sensors&) = default;
};

struct Car {
  Chosen<std::string> name;
  Known<Mass> mass;           ///< ready to drive, driver included
  Known<Length> tyre_radius;  ///< rolling
  Known<double> axle;         ///< final drive ratio [-]
  Listed<double> gears;       ///< ratios, first gear first [-]
  Known<double> drag;         ///< drag coefficient [-]
  Known<Area> frontal_area;
  Known<double> rolling_resistance;  ///< share of the weight [-]
  friend bool operator==(const Car&, const Car&) = default;
};

struct Place {
  Known<Length> altitude;
  Known<AbsolutePressure> pressure;  ///< station pressure, not reduced to sea level
  Known<Temperature> temperature;
  friend bool operator==(const Place&, const Place&) = default;
};

enum class LoadAxis : std::uint8_t { map, vacuum, throttle };

struct Wishes {
  Chosen<MixtureScale> scale;  ///< on which the three mixtures were stated
  Known<Lambda> idle_mixture;
  Known<Lambda> cruise_mixture;
  Known<Lambda> full_throttle_mixture;
  Known<EngineSpeed> idle_speed;
  Known<EngineSpeed> rev_limit;
  Chosen<LoadAxis> load_axis;
  Listed<EngineSpeed> speed_points;  ///< of the unit's tables, 2 to 64
  Listed<double> load_points_si;     ///< Pa (map, vacuum) or 0..1 (throttle), by load_axis, 2 to 64
  friend bool operator==(const Wishes&, const Wishes&) = default;
};

struct Sheet {
  Engine engine;
  Heads heads;
  Cam cam;
  Intake intake;
  Exhaust exhaust;
  Injection injection;
  Supply supply;
  Ignition ignition;
  FuelInTank fuel;
  Sensors sensors;
  Car car;
  Place place;
  Wishes wishes;
  friend bool operator==(const Sheet&, const Sheet&) = default;
};

}  // namespace fuelwright::car
