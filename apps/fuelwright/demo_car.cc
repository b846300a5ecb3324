#include "demo_car.h"

#include <algorithm>
#include <cmath>
#include <thread>

#include "base/contract.h"
#include "signals/recording/recording.h"
#include "sim/virtual_car/as_found.h"
#include "sim/virtual_car/engine_air.h"
#include "sim/virtual_car/truth_file.h"
#include "sim/virtual_car/virtual_car.h"

namespace fuelwright::apps {
namespace {

namespace vc = sim::virtual_car;

constexpr double kWarm_k = 343.15;  // warm-up enrichment is over from about here
constexpr double kAfterCut_s = 2;

Result<vc::Cycle> cycle_of(const Road& road) {
  vc::Cycle out;
  for (const DemoCycle part : road.cycles) {
    FW_TRY(const vc::Cycle cycle, vc::read_cycle(demo_cycle(part), "built-in cycle"));
    const double start = out.time_s.empty() ? 0 : out.time_s.back() + 1;
    for (std::size_t i = 0; i < cycle.time_s.size(); ++i) {
      out.time_s.push_back(start + cycle.time_s[i]);
      out.speed_mps.push_back(cycle.speed_mps[i]);
    }
  }
  return out;
}

struct Sum {
  double squares = 0;
  void add(double lambda, double target, double correction) {
    const double off = std::log(lambda / target) + std::log1p(correction);
    squares += off * off;
  }
  double rms(std::size_t count) const {
    return std::sqrt(squares / static_cast<double>(std::max<std::size_t>(count, 1)));
  }
};

Result<Off> off_of(const vc::Truth& car, const vc::Drive& drive) {
  const double row_s = 1 / car.recorder.rows_per_second;
  signals::Answers answers;
  answers.afr_constant = car.sensor.gauge_constant;
  FW_TRY(const signals::Recording r, signals::read_recording(drive.recording, "drive", answers));
  const auto* read = r.find(signals::Quantity::lambda);
  const auto* target = r.find(signals::Quantity::target);
  const auto* correction = r.find(signals::Quantity::correction);
  EXPECTS(read != nullptr && target != nullptr && correction != nullptr);
  EXPECTS(r.rows == drive.truth.size());
  Sum truth, injectors, recorder;
  std::size_t count = 0;
  double since_cut_s = kAfterCut_s;
  for (std::size_t i = 0; i < r.rows; ++i) {
    const vc::TrueMoment& m = drive.truth[i];
    since_cut_s = m.cut || m.injected.si <= 0 ? 0 : since_cut_s + row_s;
    if (since_cut_s < kAfterCut_s || m.coolant < kelvin(kWarm_k)) continue;
    truth.add(m.lambda, m.lambda_target, m.correction);
    const double as_injected = m.air / (car.fuel.stoichiometric * m.injected);
    injectors.add(as_injected, m.lambda_target, m.correction);
    recorder.add(read->si[i], target->si[i], correction->si[i]);
    ++count;
  }
  return Off{truth.rms(count), injectors.rms(count), recorder.rms(count),
             static_cast<double>(count) * row_s / 60};
}

std::vector<Wanted> wanted_in(const vc::Truth& car, const vc::Drive& drive) {
  const auto every = static_cast<std::size_t>(std::max(1.0, car.recorder.rows_per_second / 2));
  const double row_s = 1 / car.recorder.rows_per_second;
  std::vector<Wanted> out;
  double since_cut_s = kAfterCut_s;
  for (std::size_t i = 0; i < drive.truth.size(); ++i) {
    const vc::TrueMoment& m = drive.truth[i];
    since_cut_s = m.cut || m.injected.si <= 0 ? 0 : since_cut_s + row_s;
    if (i % every != 0 || since_cut_s < kAfterCut_s || m.coolant < kelvin(kWarm_k)) continue;
    const double as_injected = m.air / (car.fuel.stoichiometric * m.injected);
    out.push_back(
        {{.speed = m.speed, .map = m.map, .ambient = car.weather.ambient},
         m.looked_up * as_injected / m.lambda_target * (1 + m.correction) * (1 + m.enrichment)});
  }
  return out;
}

}  // namespace

Result<std::vector<std::pair<double, double>>> speeds_of(const Road& road) {
  FW_TRY(const vc::Cycle cycle, cycle_of(road));
  std::vector<std::pair<double, double>> out;
  for (std::size_t i = 0; i < cycle.time_s.size(); ++i) {
    out.emplace_back(cycle.time_s[i], cycle.speed_mps[i]);
  }
  return out;
}

Apart apart(const car::Surface& table, const std::vector<Wanted>& wanted, double good) {
  Apart out;
  for (const Wanted& w : wanted) {
    const double off = std::log(table.at(w.at) / w.ve);
    out.rms += off * off;
    out.within += std::abs(off) < good;
  }
  const auto n = static_cast<double>(std::max<std::size_t>(wanted.size(), 1));
  return {std::sqrt(out.rms / n), out.within / n};
}

DemoCar::DemoCar(car::Sheet sheet, std::uint64_t seed, vc::Truth truth)
    : sheet_(std::move(sheet)), seed_(seed), truth_(std::move(truth)) {}

Result<DemoCar> DemoCar::read(const car::Sheet& sheet, const char* text, std::uint64_t seed) {
  FW_TRY(vc::Truth truth, vc::truth_in(text, "built-in truth", sheet, seed));
  EXPECTS(truth.has_air());
  return DemoCar(sheet, seed, std::move(truth));
}

Result<DemoCar> DemoCar::invent(const car::Sheet& sheet, std::uint64_t seed,
                                const std::function<void(double share)>& progress) {
  DemoCar car(sheet, seed, vc::drawn_truth(sheet, seed));
  vc::AirOptions options;
  options.threads = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
  options.progress = progress;
  FW_CHECK(vc::give_air(car.truth_, car.sheet_, seed, options));
  return car;
}

car::Calibration DemoCar::as_found() const {
  return vc::calibration_as_found(truth_, sheet_, seed_);
}

Result<DemoDrive> DemoCar::driven(const vc::Truth& truth, const car::Calibration& in_unit,
                                  vc::DriveRequest request) const {
  request.keep_truth = true;
  FW_TRY(vc::Drive driven, vc::drive_car(truth, sheet_, in_unit, request));
  const double row_s = 1 / truth.recorder.rows_per_second;
  DemoDrive out;
  FW_TRY(out.off, off_of(truth, driven));
  out.wanted = wanted_in(truth, driven);
  out.minutes = static_cast<double>(driven.truth.size()) * row_s / 60;
  out.miles = driven.distance.in(mile);
  out.recording = std::move(driven.recording);
  out.cut_short = std::move(driven.cut_short);
  return out;
}

Result<DemoDrive> DemoCar::drive(const car::Calibration& in_unit, const Road& road,
                                 std::uint64_t seed) const {
  FW_TRY(vc::Cycle cycle, cycle_of(road));
  return driven(truth_, in_unit, {.task = std::move(cycle), .seed = seed});
}

Result<DemoDrive> DemoCar::drive(const car::Calibration& in_unit, const car::Plan& plan,
                                 std::uint64_t seed) const {
  constexpr double kCooled_k = 5;  // below its thermostat, after a look at the table
  vc::Truth warm = truth_;
  warm.vehicle.coolant_at_start = kelvin(warm.vehicle.thermostat.from_zero.si - kCooled_k);
  return driven(warm, in_unit, {.task = plan, .seed = seed});
}

}  // namespace fuelwright::apps
