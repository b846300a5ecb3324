#include "sagging.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "advice/outlook/supply_ahead.h"
#include "car/build/derived.h"
#include "car/build/sheet_file.h"
#include "physics/ensemble/ensemble.h"
#include "physics/supply/balance.h"
#include "signals/recording/recording.h"
#include "sim/virtual_car/as_found.h"
#include "sim/virtual_car/truth_file.h"
#include "sim/virtual_car/virtual_car.h"

namespace fuelwright::bench {
namespace {

namespace vc = sim::virtual_car;
namespace supply = physics::supply;

constexpr double kTop_rpm = 6000, kFrom_rpm = 2000, kStep_rpm = 250;

// The car takes about 41 l/h at 6000 rpm.
constexpr const char* kSheet = R"(
[engine]
displacement = "2.0 l"
cylinders = 4
[cam]
intake_duration_050 = "205 deg"
[injection]
injector_flow = "300 cc/min at 3 bar"
squirts_per_cycle = 1
regulator_pressure = "300 kPa +- 6 kPa"
regulator_reference = "manifold"
pump_pressure = "300 kPa"
pump_voltage = "13.5 V"
pump_wiring_drop = "0.1 V +- 0.1 V"
pump_flow = "{} l/h +- {} l/h"
[supply]
charging_voltage = "14.1 V"
filter_loss = "3 kPa"
hose_diameter = "9 mm"
fuel_temperature = "25 degC"
[fuel]
name = "E10"
[wishes]
rev_limit = "6800 rpm"
)";

void give_plain_air(vc::Truth& truth) {
  const car::Grid grid{car::Axis::even(car::AxisKind::engine_speed, 400, 7200, 35),
                       car::Axis::even(car::AxisKind::map_absolute, 15e3, 101.325e3, 24)};
  truth.air.ve = car::Surface::flat(grid, 0);
  truth.air.residual = car::Surface::flat(grid, 0);
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const double hump = (grid.x[ix] - 4300) / 4300;
      const double vacuum = 101.325e3 / grid.y[iy] - 1;
      truth.air.ve->node(ix, iy) = (0.92 - 0.15 * hump * hump) * std::max(1 - 0.09 * vacuum, 0.4);
      truth.air.residual->node(ix, iy) = std::min(0.05 + 0.10 * vacuum, 0.4);
    }
  }
  truth.air.reference_ambient = absolute(101.325 * kPa);
  truth.air.reference_intake = celsius(25);
  truth.air.reference_coolant = celsius(88);
}

struct At {  // of one pull, at one speed
  double rail_pa = 0, ln_lambda = 0, injected = 0, map_pa = 0;
  int samples = 0;
};

// Rows of the pull at full throttle, in the order of time.
struct Pull {
  std::vector<double> rpm, rail_pa, map_pa, ln_lambda, injected;

  At at(double n) const {
    constexpr double kNear_rpm = 60;
    At out;
    for (std::size_t i = 0; i < rpm.size(); ++i) {
      if (std::abs(rpm[i] - n) > kNear_rpm) continue;
      out.rail_pa += rail_pa[i];
      out.ln_lambda += ln_lambda[i];
      out.injected += injected[i];
      out.map_pa += map_pa[i];
      ++out.samples;
    }
    const double k = std::max(1, out.samples);
    out.rail_pa /= k;
    out.ln_lambda /= k;
    out.injected /= k;
    out.map_pa /= k;
    return out;
  }
};

Result<Pull> pull_of(const vc::Truth& truth, const car::Sheet& sheet, std::uint64_t seed) {
  car::Calibration unit = vc::calibration_as_found(truth, sheet, seed);
  unit.tables.insert_or_assign(car::TableWhat::ve, vc::true_table(truth, car::table_grid(sheet)));
  const car::Plan plan{{car::idle_for(10.0 * second), car::sweep(rpm(1800), rpm(kTop_rpm + 250), 3),
                        car::idle_for(3.0 * second)}};
  FW_TRY(const vc::Drive drive,
         vc::drive_car(truth, sheet, unit,
                       {.task = plan, .seed = seed, .length = 240.0 * second, .keep_truth = true}));
  signals::Answers answers;
  answers.afr_constant = truth.sensor.gauge_constant;
  FW_TRY(const signals::Recording r, signals::read_recording(drive.recording, "pull.csv", answers));
  const auto* rail = r.find(signals::Quantity::fuel_pressure);
  const auto* n = r.find(signals::Quantity::rpm);
  const auto* map = r.find(signals::Quantity::map);
  if (!rail || !n || !map) return Error{ErrorCode::not_found, "pull.csv", "has no rail pressure"};
  Pull out;
  const double ambient = truth.weather.ambient.from_zero.si;
  for (std::size_t i = 0; i < drive.truth.size() && i < r.rows; ++i) {
    const vc::TrueMoment& m = drive.truth[i];
    if (m.map.from_zero.si < 0.94 * ambient || m.cut || m.speed.rpm < kFrom_rpm) continue;
    out.rpm.push_back(n->si[i]);
    out.rail_pa.push_back(rail->si[i]);
    out.map_pa.push_back(map->si[i]);
    out.ln_lambda.push_back(std::log(m.lambda));
    out.injected.push_back(m.injected.si);
  }
  return out;
}

Expected interval(const std::vector<double>& values) {
  const physics::Interval i = physics::interval_of(values);
  return {i.low, i.middle, i.high};
}

// The rail as a gauge would show it, and what is missing, of every system.
void expect(const std::vector<supply::System>& systems, const supply::Need& need, Expected* rail,
            Expected* leaner) {
  std::vector<double> p, a;
  for (const supply::System& s : systems) {
    p.push_back(supply::balance(s, need).rail.above_ambient.in(kPa));
    a.push_back(advice::missing_fuel(s, need));
  }
  *rail = interval(p);
  *leaner = interval(a);
}

double rms(const std::vector<double>& x) {
  double sum = 0;
  for (const double v : x) sum += v * v;
  return x.empty() ? 0 : std::sqrt(sum / static_cast<double>(x.size()));
}

}  // namespace

Result<SagCar> sag_car(int seed, Pumps pumps) {
  const bool worn = pumps == Pumps::worn;
  const double kRated = worn ? 44 : 40, kHalf = worn ? 3 : 10;
  FW_TRY(const car::Sheet sheet,
         car::read_sheet(fmt::format(fmt::runtime(kSheet), kRated, kHalf), "sagging"));
  std::mt19937_64 random(static_cast<std::uint64_t>(seed) * 7919);
  std::uniform_real_distribution<double> weak_strength(0.60, 0.75);
  std::normal_distribution<double> normal(0, 1);
  constexpr double kTo95 = 1.96;
  SagCar out{.seed = seed,
             .strength = worn ? weak_strength(random) : 1 + kHalf / kRated / kTo95 * normal(random),
             .seen_to_rpm = worn ? 5000.0 : 4400.0};
  FW_TRY(vc::Truth truth, vc::truth_in("[vehicle]\ncoolant_at_start_degc = 88\n", "truth", sheet,
                                       static_cast<std::uint64_t>(seed)));
  give_plain_air(truth);
  const VolumeFlow rated = sheet.injection.pump_flow.value;
  truth.fuel.pump_flow = out.strength * rated;
  FW_TRY(const Pull weak, pull_of(truth, sheet, static_cast<std::uint64_t>(seed)));
  truth.fuel.pump_flow = 4.0 * rated;
  FW_TRY(const Pull strong, pull_of(truth, sheet, static_cast<std::uint64_t>(seed)));

  // What an estimate would know of the fuel that full throttle asks: the truth within 2 %.
  constexpr double kKnown = 0.02;
  const double level = std::exp(kKnown * normal(random));
  advice::SupplyAheadSettings seen;
  for (double n = kFrom_rpm + 100; n <= kTop_rpm; n += 100) {
    const At at = strong.at(n);
    if (at.samples == 0) continue;
    seen.needs.push_back({rpm(n), absolute(at.map_pa * pascal), MassFlow{level * at.injected}});
  }
  FW_TRY(const auto by_rating, advice::drawn_supply(sheet, seen));
  seen.trace = supply::RailTrace{};
  for (std::size_t i = 0; i < weak.rpm.size(); ++i) {
    if (weak.rpm[i] > out.seen_to_rpm) continue;
    seen.trace->speed.push_back(rpm(weak.rpm[i]));
    seen.trace->rail.push_back(gauge(weak.rail_pa[i] * pascal));
    seen.trace->manifold.push_back(absolute(weak.map_pa[i] * pascal));
  }
  FW_TRY(const auto by_pull, advice::drawn_supply(sheet, seen));
  const double last = out.seen_to_rpm - 60;
  out.sag_seen = weak.at(last).rail_pa < 0.96 * weak.at(kFrom_rpm + 300).rail_pa;
  for (double n = out.seen_to_rpm + kStep_rpm; n <= kTop_rpm; n += kStep_rpm) {
    const At at = weak.at(n), full = strong.at(n);
    if (at.samples == 0 || full.samples == 0) continue;
    SagPoint p{.speed = rpm(n),
               .rail_kpa = at.rail_pa / 1e3,
               .leaner = at.ln_lambda - full.ln_lambda,
               .missing = std::log(full.injected / at.injected)};
    const supply::Need need{rpm(n), absolute(full.map_pa * pascal),
                            MassFlow{level * full.injected}};
    expect(by_rating, need, &p.rail_by_rating, &p.leaner_by_rating);
    expect(by_pull, need, &p.rail_by_pull, &p.leaner_by_pull);
    out.beyond.push_back(p);
  }
  return out;
}

SagScore score(const std::vector<SagCar>& cars, bool by_pull, Which which) {
  SagScore s;
  std::vector<double> rail, missing, leaner;
  for (const SagCar& car : cars) {
    if (which == Which::sag_seen && !car.sag_seen) continue;
    ++s.cars;
    for (const SagPoint& p : car.beyond) {
      const Expected& r = by_pull ? p.rail_by_pull : p.rail_by_rating;
      const Expected& l = by_pull ? p.leaner_by_pull : p.leaner_by_rating;
      rail.push_back(r.middle - p.rail_kpa);
      missing.push_back(l.middle - p.missing);
      leaner.push_back(l.middle - p.leaner);
      // A gauge is read to 1 %; a moment's fuel to 0.5 %.
      constexpr double kGauge = 0.01, kMoment = 0.005;
      s.rail_held += p.rail_kpa > r.low - kGauge * r.low && p.rail_kpa < r.high + kGauge * r.high;
      s.missing_held += p.missing > l.low - kMoment && p.missing < l.high + kMoment;
      ++s.points;
      constexpr double kSagging = 0.02, kAllowed = 0.03;
      if (p.missing < kSagging) continue;
      ++s.sagging;
      s.beyond_three_percent += p.missing > -std::log1p(-kAllowed);
    }
  }
  s.rail_rms_kpa = rms(rail);
  s.missing_rms = rms(missing);
  s.leaner_rms = rms(leaner);
  s.rail_held /= std::max(1, s.points);
  s.missing_held /= std::max(1, s.points);
  s.beyond_three_percent /= std::max(1, s.sagging);
  return s;
}

std::string table(const std::vector<SagCar>& cars) {
  std::string out = fmt::format(
      "{:>3} {:>4} {:>5} | rail kPa {:>6}  {:<22} {:<22} | missing % {:>5} "
      "(read {:>5})  {:<20} {}\n",
      "car", "pump", "rpm", "driven", "by rating", "by pull", "driven", "lean", "by rating",
      "by pull");
  const auto three = [](const Expected& e, double k) {
    return fmt::format("{:.1f} ({:.1f} to {:.1f})", k * e.middle, k * e.low, k * e.high);
  };
  for (const SagCar& c : cars) {
    for (const SagPoint& p : c.beyond) {
      if (std::fmod(p.speed.rpm - c.seen_to_rpm, 500) > 1) continue;
      out += fmt::format(
          "{:>3} {:.2f} {:>5.0f} | {:>15.0f}  {:<22} {:<22} | {:>15.1f} ({:>10.1f})  "
          "{:<20} {}\n",
          c.seed, c.strength, p.speed.rpm, p.rail_kpa, three(p.rail_by_rating, 1),
          three(p.rail_by_pull, 1), 100 * p.missing, 100 * p.leaner, three(p.leaner_by_rating, 100),
          three(p.leaner_by_pull, 100));
    }
  }
  return out;
}

}  // namespace fuelwright::bench
