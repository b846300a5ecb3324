/// The truth about an invented car: what the engine really breathes, what really leaves its
/// injectors, how its exhaust and its sensors delay and blur the news of it, and the car around it.
///
/// A recording is made from it (road_drive.h); an estimate is judged by it. Nothing here is known
/// to an engine computer or to an estimator, and no function or constant of this folder is shared
/// with one: agreement must be earned. Theory and the ranges that are drawn from:
/// docs/theory/road_drive.md.
#pragma once

#include <array>
#include <cstdint>
#include <optional>

#include "base/units/points.h"
#include "base/units/quantity.h"
#include "car/tables/surface.h"

namespace fuelwright::sim {

/// One wave of the pipes: a ripple of volumetric efficiency over the logarithm of engine speed.
struct Ripple {
  double height = 0;              ///< half of crest to trough, share of VE [-]
  double period = 0.7;            ///< in ln rpm [-]
  EngineSpeed crest = rpm(3000);  ///< where one crest stands
};

/// What the cylinders take in; the terms of (road_drive.1) and (road_drive.2).
struct Breathing {
  double level = 0.9;            ///< VE at the hump, without residual gas and ripples [-]
  EngineSpeed hump = rpm(3800);  ///< where breathing is best
  double hump_width = 0.7;       ///< in ln rpm [-]
  double hump_fall = 0.25;       ///< how much is lost far from the hump [-]
  double residual = 1.0;         ///< strength of the residual-gas droop [-]; 1 = no overlap
  double overlap = 0.5;          ///< further strength at low speed: the cam's valve overlap [-]
  EngineSpeed overlap_fade = rpm(1500);  ///< speed over which that fades by e
  double compression_ratio = 10.0;
  AbsolutePressure exhaust = absolute(103.0 * kPa);
  std::array<Ripple, 2> ripples{};
  double interaction = 0;  ///< speed times pressure, share of VE at 2 x the mid point [-]
};

/// Fuel: what the computer has been told, and by how much that is wrong.
struct Injection {
  int injectors = 8;
  double squirts_per_cycle = 1;  ///< of one injector
  MassFlow stated_flow =
      3.0 * g_per_s;  ///< of one open injector, as told to the computer; regulated to the manifold
  double flow_error = 0;                    ///< true flow = stated (1 + error) [-]
  Duration stated_dead_time = 0.9 * ms;     ///< at 14 V, as told to the computer
  Duration dead_time_error{};               ///< true dead time = stated + error
  Duration dead_time_per_volt = 0.12 * ms;  ///< more for each volt below 14 V; known rightly
};

/// Fuel on the walls of the manifold: one puddle (road_drive.4).
struct WallFilm {
  double share = 0.25;  ///< of the injected fuel that wets the wall, warm, at 50 kPa [-]
  Duration evaporation_time = 0.5 * second;  ///< warm
  double pressure_power = 0.4;               ///< share goes with (MAP/50 kPa)^power
  double cold_growth = 0.5;  ///< ln of the growth of share and time per 40 K below 90 degC
  double cold_loss = 0.2;    ///< of the fuel that never burns at 20 degC; none from 75 degC [-]
};

/// From the exhaust valve to the number on the gauge (road_drive.5), (road_drive.6). The sensor
/// sees all cylinders.
struct MixtureSensor {
  Mass pipe_gas = 3.0 * gram;          ///< exhaust between the valves and the sensor
  double revolutions = 1.75;           ///< from the injection to the exhaust stroke
  Duration tip_delay = 0.04 * second;  ///< diffusion into the tip and the amplifier's own time
  Duration lag = 0.1 * second;         ///< first order, on 1/lambda
  double noise = 0.006;                ///< one standard deviation of the reading, share [-]
  double drift = 0.004;                ///< the same of its slow wandering over minutes [-]
  double misfires_per_minute = 0.5;    ///< rare; each reads lean for a moment
  double overlap_lean = 0.01;  ///< steady lean reading at idle from overlap and dilution, share [-]
};

/// Temperatures and pressures around the engine and in its manifold.
struct Surroundings {
  AbsolutePressure ambient = absolute(100.0 * kPa);
  Temperature air = celsius(22);
  TemperatureStep heat_soak = 30.0 * kelvin_step;  ///< intake air over ambient, standing still
  Temperature thermostat = celsius(90);
  Duration warm_up_time = 110.0 * second;  ///< of the coolant, first order
  double charge_heating = 0.18;  ///< share of coolant in the charge temperature, at low flow [-]
  double charge_heating_believed = 0.18;  ///< the same as the computer has it [-]
  PressureStep map_noise = 0.25 * kPa;    ///< of the pressure sensor, one standard deviation
  double meter_gain_error = 0;            ///< metered air = true air (1 + error) [-]
  double meter_noise = 0.008;             ///< one standard deviation, share [-]
};

/// The car on the road, with a manual gearbox.
struct Vehicle {
  Mass mass = 1500.0 * kg;
  Area drag_area = 0.72 * m2;  ///< drag coefficient times frontal area
  double rolling = 0.012;      ///< rolling resistance per weight [-]
  std::array<double, 5> gears{2.95, 1.94, 1.34, 1.0, 0.76};
  double axle = 3.4;
  Length tyre_radius = 0.32 * metre;  ///< rolling
  EngineSpeed idle = rpm(780);        ///< warm
  EngineSpeed redline = rpm(6000);
  double idle_shake = 0.010;  ///< one standard deviation of idle speed, share [-]
  PressureStep overrun =
      20.0 * kPa;  ///< manifold pressure with the throttle shut at high speed, above vacuum
};

struct Truth {
  Volume displacement;
  int cylinders = 8;
  double stoichiometric_ratio =
      14.6;  ///< of the fuel in the tank, by mass; the computer knows it [-]
  Breathing breathing;
  std::optional<car::Surface> computed_ve{};  ///< if given, in place of (road_drive.1): see engine_air.h
  Injection injection;
  WallFilm film;
  MixtureSensor sensor;
  Surroundings surroundings;
  Vehicle vehicle;
};

/// A car of this engine size with every other property drawn from the seed. Injectors are sized for
/// 80 % duty at the redline, one for each cylinder. Range: 0.3..12 l, 1..16 cylinders, ratio 5..16
/// (a broken contract outside).
Truth invent_truth(std::uint64_t seed, Volume displacement, int cylinders,
                   double stoichiometric_ratio = 14.6);

/// The same car with everything taken away that stands between table and reading: no film, delay,
/// lag, noise, drift, misfire, error of injectors, charge temperature or air meter, and no fuel
/// lost when cold.
Truth idealised(Truth truth);
/// The same car breathing alike everywhere.
Truth with_flat_ve(Truth truth, double ve);

/// Volumetric efficiency, referred to manifold pressure and charge temperature [-], smooth, between
/// 0.35 and 1.05.
///
///   VE = level h(n) w(n) i(n, p) (1 - d(n, p)) (road_drive.1) d  = (residual + overlap e^(-n/n_o))
///   ((p_e/p) - 1) / (1.35 (r - 1))               (road_drive.2)
///
/// h: hump over ln n; w: ripples; i: interaction; d: residual gas left at exhaust pressure in the
/// clearance volume takes room from the charge. Range: 300..9000 rpm, 12..120 kPa. Source: d from
/// the isentropic expansion of the residual gas (ideal cycle, textbook); the rest is invented.
double true_ve(const Truth& truth, EngineSpeed speed, AbsolutePressure map);
/// d of (road_drive.2), 0..0.9 [-].
double residual_droop(const Truth& truth, EngineSpeed speed, AbsolutePressure map);

/// A start table of a canned sort: the truth times e^(a smooth error) whose rms over the nodes is
/// drawn from 5..15 %. The grid has an engine-speed axis and one of manifold pressure or vacuum (a
/// broken contract otherwise).
car::Surface table_as_found(const Truth& truth, const car::Grid& grid, std::uint64_t seed);

}  // namespace fuelwright::sim
