#include "invented_cars.h"

#include <algorithm>
#include <cmath>

#include "advice/map_estimate/estimate.h"
#include "car/build/derived.h"
#include "car/build/sheet_file.h"
#include "signals/recording/recording.h"

namespace fuelwright::bench {
namespace {

constexpr const char* kSheet = R"(
[engine]
displacement = "5.7 l"
cylinders = 8
[cam]
intake_duration_050 = "218 deg"
[injection]
injector_flow = "34 lb/h at 43.5 psi"
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
)";

struct Setup {
  car::Sheet sheet;
  sim::Truth truth;
  car::Surface found;
};

Setup set_up(std::uint64_t car) {
  car::Sheet sheet = *car::read_sheet(kSheet, "invented.toml");
  sim::Truth truth =
      sim::invent_truth(car, sheet.engine.displacement.value, 8, sheet.fuel.stoichiometric.value);
  truth.injection.stated_flow = sheet.injection.injector_flow.value;
  truth.injection.stated_dead_time = sheet.injection.dead_time.value;
  car::Surface found = sim::table_as_found(truth, car::table_grid(sheet), car);
  return {std::move(sheet), std::move(truth), std::move(found)};
}

signals::Recording read(const std::string& csv) {
  signals::Answers answers;
  answers.afr_constant = 14.7;
  auto r = signals::read_recording(csv, "drive.csv", answers);
  EXPECTS(r.ok());
  return *r;
}

// The drive that shows the truth: nothing between table and reading.
signals::Recording judge_drive(const Setup& s, std::uint64_t road, double minutes) {
  sim::Truth clear = sim::idealised(s.truth);
  clear.injection = s.truth.injection;
  clear.surroundings.charge_heating = s.truth.surroundings.charge_heating;
  clear.surroundings.charge_heating_believed = s.truth.surroundings.charge_heating_believed;
  sim::DriveOptions o;
  o.seed = road;
  o.minutes = minutes;
  o.coolant_at_start = celsius(90);
  o.computer.closed_loop = false;
  o.computer.tip_in = 0;
  o.computer.fuel_cut = false;
  return read(sim::drive(clear, s.found, o));
}

struct Averages {
  std::vector<double> sum, weight;
};

}  // namespace

JudgedCar judge(std::uint64_t car, std::uint64_t road, std::uint64_t judge_road, double minutes,
                advice::Way way) {
  const Setup s = set_up(car);
  sim::DriveOptions o;
  o.seed = road;
  o.minutes = minutes;
  o.coolant_at_start = celsius(85);
  const signals::Recording drive = read(sim::drive(s.truth, s.found, o));
  advice::ObserveOptions observe;
  observe.way = way;
  const auto observer = advice::Observer::make(drive, s.sheet, s.found, observe);
  EXPECTS(observer.ok());
  const advice::SampleSource source = [&](const auto& f) {
    observer->each(way == advice::Way::pulse_width ? 1 : 0, 0, 0, f);
  };
  advice::EstimateOptions options;
  options.instrument_level_sd = {advice::level_sd(way)};
  const advice::MapEstimate e = advice::estimate(s.found, car::TableWhat::ve, source, options);

  Averages a{std::vector<double>(s.found.values.size(), 0.0),
             std::vector<double>(s.found.values.size(), 0.0)};
  source([&](const advice::Sample& x) {
    const car::NodeShares shares = s.found.grid.shares(x.at);
    for (int k = 0; k < shares.count; ++k) {
      a.sum[shares.node[k]] += shares.share[k] * x.y;
      a.weight[shares.node[k]] += shares.share[k];
    }
  });
  car::Surface averaged = car::Surface::flat(s.found.grid, 0.0);
  for (std::size_t i = 0; i < a.sum.size(); ++i) {
    if (a.weight[i] > 0) averaged.values[i] = a.sum[i] / a.weight[i];
  }

  const signals::Recording truth = judge_drive(s, judge_road, minutes);
  const auto& n = truth.find(signals::Quantity::rpm)->si;
  const auto& p = truth.find(signals::Quantity::map)->si;
  const auto& lambda = truth.find(signals::Quantity::lambda)->si;
  const auto& target = truth.find(signals::Quantity::target)->si;
  JudgedCar out;
  std::vector<double> widths;
  for (std::size_t i = 0; i < truth.rows; ++i) {
    if (n[i] < 600 || p[i] < 26e3 || lambda[i] > 1.5) continue;  // overrun is reported apart
    const car::OperatingPoint at{.speed = rpm(n[i]), .map = absolute(p[i] * pascal)};
    const double off = std::log(lambda[i] / target[i]);
    const auto here = e.at(at);
    out.before += off * off;
    out.averaged += std::pow(off - averaged.at(at), 2);
    out.after += std::pow(off - here.ln, 2);
    out.within_3 += std::abs(off - here.ln) <= 0.03;
    out.held += std::abs(off - here.ln) <= 1.959964 * here.sd;
    widths.push_back(1.959964 * here.sd);
  }
  const auto rows = static_cast<double>(widths.size());
  out.before = std::sqrt(out.before / rows);
  out.averaged = std::sqrt(out.averaged / rows);
  out.after = std::sqrt(out.after / rows);
  out.within_3 /= rows;
  out.held /= rows;
  std::nth_element(widths.begin(), widths.begin() + static_cast<std::ptrdiff_t>(widths.size() / 2),
                   widths.end());
  out.half_width = widths[widths.size() / 2];
  return out;
}

}  // namespace fuelwright::bench
