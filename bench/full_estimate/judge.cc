#include "judge.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <iterator>
#include <sstream>

namespace fuelwright::bench {
namespace {

namespace vc = sim::virtual_car;

constexpr double kFullShare = 0.90;
constexpr double kOverrun_pa = 32e3;
constexpr double kDiluted = 0.30;
constexpr double kOverIdle = 1.4;
constexpr double kRunning = 0.7;     // of idle speed; slower is a stall or a start
constexpr double kSettled_s = 10;    // after the start
constexpr std::size_t kEvery = 4;    // of the rows: 5 a second
constexpr double kFewest_s = 0.3;    // of driving at a node, for the table of the second drive

car::Calibration plain(const car::Calibration& found, const car::Surface& table) {
  car::Calibration c = found;
  c.tables.insert_or_assign(car::TableWhat::ve, table);
  c.settings[car::SettingWhat::closed_loop_add] = 0;
  c.settings[car::SettingWhat::closed_loop_take] = 0;
  const auto axis = car::Axis::make(car::axis_of(car::CurveWhat::tip_in_fuel), {1e3, 1e6});
  c.curves.insert_or_assign(car::CurveWhat::tip_in_fuel, car::Curve{*axis, {0.0, 0.0}});
  return c;
}

vc::Truth quick_and_exact(vc::Truth truth) {
  truth.computer.update = 0.005 * second;
  truth.computer.map_filter = Duration{};
  truth.computer.map_step = PressureStep{};
  truth.recorder.map_noise = PressureStep{};
  truth.vehicle.coolant_at_start = celsius(88);
  return truth;
}

std::vector<vc::TrueMoment> driven(const TestCar& car, const vc::Truth& truth,
                                   const car::Surface& table,
                                   const std::variant<vc::Cycle, car::Plan>& task,
                                   std::uint64_t seed, Duration length) {
  auto drive = vc::drive_car(quick_and_exact(truth), car.sheet, plain(car.found, table),
                             {.task = task, .seed = seed, .length = length, .keep_truth = true});
  if (!drive.ok()) {
    fmt::print(stderr, "{}\n", drive.error().line());
    std::exit(1);
  }
  return std::move(drive->truth);
}

Judged judged(const TestCar& car, const vc::Truth& truth,
              const std::vector<vc::TrueMoment>& moments) {
  const double idle = car.sheet.wishes.idle_speed.value.rpm;
  const double ambient = truth.weather.ambient.from_zero.si;
  Judged out;
  for (std::size_t i = 0; i < moments.size(); i += kEvery) {
    const vc::TrueMoment& m = moments[i];
    if (m.cut || m.injected.si <= 0 || m.time.si < kSettled_s || m.speed.rpm < kRunning * idle) {
      continue;
    }
    const double p = m.map.from_zero.si;
    const bool rolling = p < kOverrun_pa && m.speed.rpm > kOverIdle * idle;
    out.time_s.push_back(m.time.si);
    out.at.push_back({.speed = m.speed, .map = m.map, .ambient = truth.weather.ambient});
    out.needed_ve.push_back(m.looked_up * m.air.si /
                            (truth.fuel.stoichiometric * m.lambda_target * m.injected.si));
    out.where.push_back(m.residual > kDiluted      ? Where::diluted
                        : rolling                   ? Where::overrun
                        : p >= kFullShare * ambient ? Where::full
                                                    : Where::driven);
  }
  return out;
}

// Needed over found at the nodes, by shares; where nothing was driven, the mean.
car::Surface asked_for(const Judged& j, const car::Surface& found) {
  std::vector<double> sum(found.values.size(), 0.0), weight(found.values.size(), 0.0);
  double all = 0;
  for (std::size_t i = 0; i < j.at.size(); ++i) {
    const double ln = std::log(j.needed_ve[i] / found.at(j.at[i]));
    all += ln / static_cast<double>(j.at.size());
    const auto shares = found.grid.shares(j.at[i]);
    for (int k = 0; k < shares.count; ++k) {
      const auto n = static_cast<std::size_t>(shares.node[static_cast<std::size_t>(k)]);
      sum[n] += shares.share[static_cast<std::size_t>(k)] * ln;
      weight[n] += shares.share[static_cast<std::size_t>(k)];
    }
  }
  const double fewest = kFewest_s * 5;
  car::Surface out = found;
  for (std::size_t n = 0; n < sum.size(); ++n) {
    out.values[n] *= std::exp(weight[n] > fewest ? sum[n] / weight[n] : all);
  }
  return out;
}

}  // namespace

Judged judge_drive(const TestCar& car, const vc::Truth& truth,
                   const std::variant<vc::Cycle, car::Plan>& task, std::uint64_t seed,
                   Duration length) {
  const Judged first = judged(car, truth, driven(car, truth, car.table(), task, seed, length));
  const car::Surface better = asked_for(first, car.table());
  return judged(car, truth, driven(car, truth, better, task, seed, length));
}

Judged kept(const Keep& keep, const std::string& name, const std::function<Judged()>& make) {
  const std::string text = keep.text(name, [&] {
    const Judged j = make();
    std::string out;
    for (std::size_t i = 0; i < j.at.size(); ++i) {
      fmt::format_to(std::back_inserter(out), "{} {} {} {} {} {}\n", j.time_s[i],
                     j.at[i].speed.rpm, j.at[i].map.from_zero.si, j.at[i].ambient.from_zero.si,
                     j.needed_ve[i], static_cast<int>(j.where[i]));
    }
    return out;
  });
  Judged j;
  std::istringstream in(text);
  double t = 0, n = 0, p = 0, ambient = 0, ve = 0;
  int where = 0;
  while (in >> t >> n >> p >> ambient >> ve >> where) {
    j.time_s.push_back(t);
    j.at.push_back({.speed = rpm(n),
                    .map = absolute(p * pascal),
                    .ambient = absolute(ambient * pascal)});
    j.needed_ve.push_back(ve);
    j.where.push_back(static_cast<Where>(where));
  }
  return j;
}

double Score::rms() const { return rows ? std::sqrt(squares / static_cast<double>(rows)) : 0; }
double Score::share_within_3() const {
  return rows ? static_cast<double>(within_3) / static_cast<double>(rows) : 0;
}
double Score::coverage() const {
  return rows ? static_cast<double>(held) / static_cast<double>(rows) : 0;
}
double Score::median_half_width() const {
  if (half_widths.empty()) return 0;
  std::vector<double> w = half_widths;
  const auto middle = w.begin() + static_cast<std::ptrdiff_t>(w.size() / 2);
  std::nth_element(w.begin(), middle, w.end());
  return *middle;
}
void Score::add(const Score& other) {
  rows += other.rows;
  squares += other.squares;
  within_3 += other.within_3;
  held += other.held;
  half_widths.insert(half_widths.end(), other.half_widths.begin(), other.half_widths.end());
}

}  // namespace fuelwright::bench
