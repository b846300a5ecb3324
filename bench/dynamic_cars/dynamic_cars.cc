#include "dynamic_cars.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>

#include "car/build/derived.h"
#include "car/build/sheet_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::bench {
namespace {

struct KindRow {
  const char* name;
  double litres;
  int cylinders;
  const char* flow;
  bool wet;      // injected above the throttle, on a wet manifold
  bool big_cam;  // much overlap
};
constexpr std::array<KindRow, kKinds> kKindRows{{
    {"V8 5.7 l, ports", 5.7, 8, "34 lb/h at 43.5 psi", false, false},
    {"four 2.0 l, ports", 2.0, 4, "24 lb/h at 43.5 psi", false, false},
    {"V8 5.0 l, throttle", 5.0, 8, "30 lb/h at 43.5 psi", true, false},
    {"six 3.2 l, throttle", 3.2, 6, "26 lb/h at 43.5 psi", true, false},
    {"V8 6.2 l, ports, big cam", 6.2, 8, "42 lb/h at 43.5 psi", false, true},
    {"four 1.6 l, ports", 1.6, 4, "20 lb/h at 43.5 psi", false, false},
}};
const KindRow& kind(std::uint64_t car) { return kKindRows[car % kKinds]; }

struct Setup {
  car::Sheet sheet;
  sim::Truth truth;
  car::Surface found;
};

Setup set_up(std::uint64_t car, bool clean_sensor) {
  const KindRow& k = kind(car);
  const std::string toml = fmt::format(
      R"(
[engine]
displacement = "{} l"
cylinders = {}
[cam]
intake_duration_050 = "{} deg"
[injection]
arrangement = "{}"
regulator_reference = "{}"
injector_flow = "{}"
squirts_per_cycle = 1
regulator_pressure = "43.5 psi"
dead_time = "0.9 ms"
[fuel]
name = "E10"
[wishes]
scale = "afr 14.7"
idle_mixture = 13.5
cruise_mixture = 14.2
full_throttle_mixture = 12.6
)",
      k.litres, k.cylinders, k.big_cam ? 242 : 214, k.wet ? "throttle" : "ports",
      k.wet ? "atmosphere" : "manifold", k.flow);
  auto read = car::read_sheet(toml, "invented.toml");
  if (!read.ok()) fmt::print(stderr, "{}\n", read.error().line());
  car::Sheet sheet = *read;
  sim::Truth truth = sim::invent_truth(car, sheet.engine.displacement.value, k.cylinders,
                                       sheet.fuel.stoichiometric.value);
  const car::Injection& in = sheet.injection;
  const double q =
      in.injector_flow.si() * std::sqrt(in.regulator_pressure.si() / in.injector_pressure.si() *
                                        sheet.fuel.density.si() / in.rated_density.si());
  truth.injection.injectors = sheet.injection.injector_count.value;
  truth.injection.stated_flow = MassFlow{q};
  truth.injection.stated_dead_time = in.dead_time.value;
  if (k.wet) {
    truth.film.share = std::min(0.65, 2.1 * truth.film.share);
    truth.film.evaporation_time = Duration{2.5 * truth.film.evaporation_time.si};
  }
  if (k.big_cam) {
    truth.breathing.overlap *= 4;
    truth.sensor.overlap_lean = 0.04;
    truth.sensor.misfires_per_minute *= 4;
  }
  if (clean_sensor) {
    truth.sensor.drift = 0;
    truth.sensor.overlap_lean = 0;
  }
  car::Surface found = sim::table_as_found(truth, car::table_grid(sheet), car);
  return {std::move(sheet), std::move(truth), std::move(found)};
}

signals::Recording read(const std::string& csv) {
  signals::Answers answers;
  answers.afr_constant = 14.7;
  auto r = signals::read_recording(csv, "drive.csv", answers);
  if (!r.ok()) fmt::print(stderr, "{}\n", r.error().line());
  EXPECTS(r.ok());
  return *r;
}

// The drive that shows the truth: nothing between table and reading.
signals::Recording judge_drive(const Setup& s, std::uint64_t road, double minutes, int pulls) {
  sim::Truth clear = sim::idealised(s.truth);
  clear.injection = s.truth.injection;
  clear.surroundings.charge_heating = s.truth.surroundings.charge_heating;
  clear.surroundings.charge_heating_believed = s.truth.surroundings.charge_heating_believed;
  sim::DriveOptions o;
  o.seed = road;
  o.driver.pulls = pulls;
  o.minutes = minutes;
  o.coolant_at_start = celsius(90);
  o.computer.closed_loop = false;
  o.computer.tip_in = 0;
  o.computer.fuel_cut = false;
  return read(sim::drive(clear, s.found, o));
}

// ln(true / table) at the nodes by averaging; nodes never seen stay at 0.
car::Surface average(const signals::Recording& r, const car::Surface& found,
                     const AveragingSettings& set) {
  using signals::Quantity;
  const auto& n = r.find(Quantity::rpm)->si;
  const auto& p = r.find(Quantity::map)->si;
  const auto& lambda = r.find(Quantity::lambda)->si;
  const auto& target = r.find(Quantity::target)->si;
  const auto& correction = r.find(Quantity::correction)->si;
  const auto settle = static_cast<std::size_t>(set.settle_s / r.row_step->si);
  const auto delay = static_cast<std::size_t>(std::lround(set.delay_s / r.row_step->si));
  car::Surface sum = car::Surface::flat(found.grid, 0.0);
  std::vector<double> weight(found.values.size(), 0.0);
  for (std::size_t i = settle; i + delay < r.rows; ++i) {
    const auto steady = [&](const std::vector<double>& v) {
      const auto [low, high] =
          std::minmax_element(v.begin() + static_cast<std::ptrdiff_t>(i - settle),
                              v.begin() + static_cast<std::ptrdiff_t>(i + 1));
      return std::log(*high / *low) < set.steady_ln;
    };
    const double read = lambda[i + delay];
    if (p[i] < 26e3 || n[i] < 500 || read > 1.4 || read < 0.65) continue;
    if (!steady(n) || !steady(p)) continue;
    const double y = std::log(read / target[i]) + std::log1p(correction[i]);
    const auto shares = found.grid.shares({.speed = rpm(n[i]), .map = absolute(p[i] * pascal)});
    for (int k = 0; k < shares.count; ++k) {
      sum.values[static_cast<std::size_t>(shares.node[k])] += shares.share[k] * y;
      weight[static_cast<std::size_t>(shares.node[k])] += shares.share[k];
    }
  }
  for (std::size_t i = 0; i < weight.size(); ++i) {
    sum.values[i] = weight[i] > 0 ? sum.values[i] / weight[i] : 0.0;
  }
  return sum;
}

struct Judge {
  std::vector<car::OperatingPoint> at;
  std::vector<double> off;  // ln(true / table)
  template <class F>        // F: point -> {ln, sd}
  Score score(F answer, double from_pa = 0) const {
    Score s;
    std::vector<double> widths;
    for (std::size_t i = 0; i < at.size(); ++i) {
      if (at[i].map.from_zero.si < from_pa) continue;
      const auto [ln, sd] = answer(at[i]);
      const double error = off[i] - ln;
      s.rms += error * error;
      s.within_3 += std::abs(error) <= 0.03;
      s.held += std::abs(error) <= 1.959964 * sd;
      widths.push_back(1.959964 * sd);
    }
    if (widths.empty()) return s;
    const auto rows = static_cast<double>(widths.size());
    s.rms = std::sqrt(s.rms / rows);
    s.within_3 /= rows;
    s.held /= rows;
    std::nth_element(widths.begin(),
                     widths.begin() + static_cast<std::ptrdiff_t>(widths.size() / 2), widths.end());
    s.half_width = widths[widths.size() / 2];
    return s;
  }
};

Judge judge_of(const signals::Recording& truth) {
  using signals::Quantity;
  const auto& n = truth.find(Quantity::rpm)->si;
  const auto& p = truth.find(Quantity::map)->si;
  const auto& lambda = truth.find(Quantity::lambda)->si;
  const auto& target = truth.find(Quantity::target)->si;
  Judge j;
  for (std::size_t i = 0; i < truth.rows; ++i) {
    if (n[i] < 600 || p[i] < 26e3 || lambda[i] > 1.5) continue;  // overrun is another matter
    j.at.push_back({.speed = rpm(n[i]), .map = absolute(p[i] * pascal)});
    j.off.push_back(std::log(lambda[i] / target[i]));
  }
  return j;
}

}  // namespace

const char* kind_of(std::uint64_t car) { return kind(car).name; }

Compared compare(std::uint64_t car, const CompareOptions& options) {
  using advice::FuelFrom;
  const Setup s = set_up(car, options.clean_sensor);
  sim::DriveOptions o;
  o.seed = 10 * car;
  o.driver.pulls = options.pulls;
  o.minutes = options.minutes;
  o.coolant_at_start = celsius(85);
  o.columns.pulse_width = options.from != FuelFrom::target;
  const signals::Recording drive = read(sim::drive(s.truth, s.found, o));
  const Judge judge = judge_of(
      judge_drive(s, 10 * car + (options.another_road ? 1 : 0), options.minutes, options.pulls));

  advice::ObserveOptions observe;
  observe.way =
      options.from == FuelFrom::pulse_width ? advice::Way::pulse_width : advice::Way::correction;
  const auto observer = advice::Observer::make(drive, s.sheet, s.found, observe);
  EXPECTS(observer.ok());
  advice::EstimateOptions fixed;
  fixed.instrument_level_sd = {advice::level_sd(*observe.way)};
  const int instrument = options.from == FuelFrom::pulse_width ? 1 : 0;
  const advice::MapEstimate e = advice::estimate(
      s.found, car::TableWhat::ve, [&](const auto& f) { observer->each(instrument, 0, 0, f); },
      fixed);

  Compared out;
  const auto began = std::chrono::steady_clock::now();
  auto driving = advice::Driving::make(drive, s.sheet, s.found, s.found, observe);
  if (!driving.ok()) fmt::print(stderr, "{}\n", driving.error().line());
  advice::DynamicOptions dynamic;
  dynamic.dynamics = advice::DynamicsPrior::of(s.sheet);
  dynamic.instrument_level_sd = {advice::level_sd(advice::Way::pulse_width)};
  if (options.settings) options.settings(dynamic);
  out.estimate = advice::estimate_dynamic(s.found, car::TableWhat::ve, {&*driving, 1}, {}, dynamic);
  out.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();

  const car::Surface averaged = average(drive, s.found, options.averaging);
  using P = std::pair<double, double>;
  const auto off = judge.score([](const auto&) { return P{0.0, 0.0}; });
  out.before = off.rms;
  out.averaging = judge.score([&](const auto& at) { return P{averaged.at(at), 0.0}; });
  const auto fixed_says = [&](const auto& at) {
    const auto a = e.at(at);
    return P{a.ln, a.sd};
  };
  const auto dynamic_says = [&](const auto& at) {
    const auto a = out.estimate->map.at(at);
    return P{a.ln, a.sd};
  };
  constexpr double kFull_pa = 85e3;
  out.fixed = judge.score(fixed_says);
  out.dynamic = judge.score(dynamic_says);
  out.full_fixed = judge.score(fixed_says, kFull_pa);
  out.full = judge.score(dynamic_says, kFull_pa);
  return out;
}

}  // namespace fuelwright::bench
