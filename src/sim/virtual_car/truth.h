/// The truth about one virtual car: what its engine really breathes, what really leaves its
/// injectors, how exhaust and sensors delay and blur the news of it, the unit's hardware, the car,
/// the driver and the weather.
///
/// A recording is made from it (virtual_car.h); an estimate is judged by it and never reads it. No
/// function and no constant for film, exhaust, sensor or air is shared with advice. Every member is
/// a key of the truth file (truth_file.h), with its limits and with what is drawn where a file is
/// silent: internal/parameters.cc. Theory: docs/theory/virtual_car.md.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "base/units/points.h"
#include "base/units/quantity.h"
#include "car/build/sheet.h"
#include "car/tables/surface.h"

namespace fuelwright::sim::virtual_car {

using Inertia = Quantity<2, 1, 0>;
inline constexpr Unit<2, 1, 0> kg_m2{1.0};

struct Engine {
  int cylinders = 8;
  int banks = 2;  ///< exhausts with a sensor place each; odd cylinders breathe into the first
  Volume displacement;
  double compression = 10;
  double work = 1;      ///< factor on the work of the charge [-]
  double friction = 1;  ///< factor on friction [-]
  Inertia inertia;      ///< engine and flywheel or converter
  Volume manifold;      ///< between throttle and valves
  Area throttle_open;   ///< effective (flow coefficient times area), all throttles
  Area throttle_shut;   ///< leak of the shut plates
  Area idle_valve;      ///< largest opening of the idle valve, effective
};

/// Air of the engine (virtual_car.1). The tables stand over engine speed and manifold pressure at
/// the reference state.
struct Air {
  std::optional<car::Surface>
      ve;  ///< referred to manifold pressure and reference intake temperature [-]
  std::optional<car::Surface> residual;  ///< burnt share of the charge [-]
  AbsolutePressure reference_ambient;
  Temperature reference_intake = celsius(25);
  Temperature reference_coolant = celsius(88);
  double level = 1;               ///< factor on ve [-]
  double heating = 0.2;           ///< share of coolant in the charge temperature at no flow [-]
  MassFlow heating_flow;          ///< air flow at which that share has halved
  std::vector<double> cylinders;  ///< air of each, relative to their mean [-]
};

struct Fuel {
  double stoichiometric = 14.6;  ///< of the fuel in the tank, by mass [-]
  int injectors = 8;
  double squirts_per_cycle = 1;      ///< of one injector [-]
  MassFlow flow;                     ///< of one, held open, at flow_pressure
  PressureStep flow_pressure;        ///< across it
  Duration dead_time;                ///< at 14 V and flow_pressure
  Duration dead_time_per_volt;       ///< more for each volt below 14 V ...
  double dead_time_curvature = 0.1;  ///< ... and this share more for each further volt [-]
  bool regulated_to_manifold = true;
  PressureStep regulator;  ///< above its reference, at no flow
  double droop = 0.01;     ///< regulator pressure lost at full pump flow [-]
  VolumeFlow pump_flow;    ///< at pump_pressure and 13.5 V
  PressureStep pump_pressure;
  double pump_slope = 0.4;        ///< share of flow lost per share of pressure more [-]
  Density density;                ///< of the fuel
  std::vector<double> cylinders;  ///< fuel of each, relative to their mean [-]
};

/// Two puddles (virtual_car.5); shares and times hold warm and at 50 kPa.
struct Film {
  bool above_throttle = false;  ///< injected above the throttle on a wet manifold
  double fast_share = 0.2;      ///< of the injected fuel [-]
  double slow_share = 0.05;
  Duration fast_time = 0.3 * second;
  Duration slow_time = 2.0 * second;
  double pressure_power = 0.4;  ///< shares go with (p/50 kPa)^power
  double cold_growth = 0.5;     ///< ln of the growth of shares and times per 40 K below 90 degC
  double cold_loss = 0.15;      ///< of the fuel never burns at 20 degC; none from 75 degC [-]
};

/// From the exhaust valve to the sensor, each bank (virtual_car.6).
struct Exhaust {
  Mass pipe;                    ///< gas between valves and sensor, a plug
  Mass mixing;                  ///< gas that the plug mixes with
  double revolutions = 1.75;    ///< from the injection to the exhaust stroke [-]
  PressureStep back_pressure;   ///< before the collector, at back_pressure_flow
  MassFlow back_pressure_flow;  ///< of the whole engine
};

/// Wideband sensors, one a bank (virtual_car.7).
struct Sensor {
  int fitted = 1;  ///< 0..2; the first sits in the first bank
  Duration tip_delay = 0.03 * second;
  Duration lag = 0.1 * second;  ///< first order, on 1/lambda
  double noise = 0.006;         ///< one standard deviation, share [-]
  double drift = 0.004;         ///< the same, of its wandering [-]
  Duration drift_time = 150.0 * second;
  double gain = 1;               ///< read (lambda - 1) = gain (lambda - 1) [-]
  double pressure_error = 0.05;  ///< more of (lambda - 1) per 100 kPa of exhaust pressure [-]
  double dilution_limit = 0.42;  ///< burnt share at which half of the cycles misfire [-]
  double dilution_width = 0.025;
  double misfire_seen = 0.6;             ///< how much of a misfire's mixture reads as lean [-]
  double misfires_per_minute = 0.5;      ///< for no reason
  double richest = 0.65, leanest = 1.6;  ///< readings end here, lambda [-]
  double gauge_constant = 14.7;          ///< AFR shown = lambda times this [-]
};

/// The unit's hardware and habits, besides its calibration (virtual_car.8).
struct Computer {
  Duration update = 0.01 * second;
  PressureStep map_step = 0.1 * kPa;  ///< of its converter
  Duration map_filter = 0.015 * second;
  EngineSpeed rpm_step = rpm(1);
  Duration pulse_step = 1e-6 * second;
  double charge_mix = 0;                     ///< share of coolant it believes in the charge [-]
  double correction_gain = 0.04;             ///< per share of error and correction step [-]
  Duration correction_step = 0.15 * second;  ///< its own delay between two steps
  Duration correction_wait = 0.8 * second;   ///< held so long after pressure has moved
  double self_correction = 0;  ///< share of the correction it takes into its table a minute [-]
};

struct Weather {
  AbsolutePressure ambient;
  Temperature air;
  double humidity = 0.5;      ///< relative [-]
  TemperatureStep heat_soak;  ///< intake air over ambient, standing still
};

struct Vehicle {
  bool automatic = false;
  Mass mass;
  Area drag_area;          ///< drag coefficient times frontal area
  double rolling = 0.012;  ///< rolling resistance per weight [-]
  double grade = 0;        ///< rise over run, all along [-]
  double hills = 0.005;    ///< one standard deviation of the grade's wandering [-]
  std::vector<double> gears;
  double axle = 3.4;
  Length tyre_radius;
  double driveline = 0.92;        ///< efficiency [-]
  EngineSpeed stall = rpm(2000);  ///< of the converter, at full throttle
  Duration shift = 0.45 * second;
  Temperature thermostat = celsius(90);
  Duration warm_up = 110.0 * second;  ///< of the coolant, first order
  Temperature coolant_at_start = celsius(20);
};

struct Driver {
  Duration reaction = 0.2 * second;
  double unsteadiness = 0.05;  ///< one standard deviation of the foot, share [-]
  double eagerness = 0.6;      ///< how hard a speed error is worked off [1/s as a number]
};

struct Recorder {
  double rows_per_second = 20;
  Duration jitter{};  ///< one standard deviation of the time stamps
  int polled_in = 1;  ///< rows in which all channels come round; 1: all in every row
  PressureStep map_noise = 0.2 * kPa;
  std::vector<std::string> missing;  ///< channels left out, by channel_names()
};

struct Truth {
  Engine engine;
  Air air;
  Fuel fuel;
  Film film;
  Exhaust exhaust;
  Sensor sensor;
  Computer computer;
  Weather weather;
  Vehicle vehicle;
  Driver driver;
  Recorder recorder;

  bool has_air() const { return air.ve && air.residual; }
};

/// Fresh air the engine takes in at the truth's weather, referred to manifold pressure and the
/// reference intake temperature [-] (virtual_car.1):
///
///   VE = level VE_table(n, p p_ref/p_a)
///
/// what the exhaust leaves behind goes with the ratio of the two pressures. The edge rule of
/// car/tables holds. Range: truth.has_air().
double true_ve(const Truth& truth, EngineSpeed speed, AbsolutePressure map);
/// Burnt share of the charge there [-].
double true_residual(const Truth& truth, EngineSpeed speed, AbsolutePressure map);
/// Charge temperature by heat from the walls (virtual_car.2).
Temperature true_charge_temperature(const Truth& truth, Temperature intake, Temperature coolant,
                                    MassFlow air);
/// Share of dry air in the moist air of the weather, by pressure [-] (virtual_car.3).
double dry_share(const Weather& weather);
/// What the recorder can be told to leave out.
const std::vector<std::string>& channel_names();

}  // namespace fuelwright::sim::virtual_car
