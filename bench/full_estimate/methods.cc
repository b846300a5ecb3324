#include "methods.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <memory>

#include "signals/recording/recording.h"

namespace fuelwright::bench {
namespace {

using signals::Quantity;

constexpr double kRowsPerSecond = 20;
constexpr double kLowest_pa = 22e3;
constexpr double kLeanest = 1.4, kRichest = 0.68;
constexpr double kAfterCut_s = 2;

[[noreturn]] void stop_with(const Error& error) {
  fmt::print(stderr, "{}\n", error.line());
  std::exit(1);
}

// For each row whether the value has stayed within e^steady over the rows before it.
std::vector<char> steady(const std::vector<double>& v, std::size_t settle, double steady_ln) {
  std::vector<char> out(v.size(), 0);
  for (std::size_t i = settle; i < v.size(); ++i) {
    double low = v[i], high = v[i];
    for (std::size_t k = i - settle; k < i; ++k) {
      low = std::min(low, v[k]);
      high = std::max(high, v[k]);
    }
    out[i] = std::log(high / low) < steady_ln;
  }
  return out;
}

}  // namespace

signals::Recording read(const std::string& csv) {
  signals::Answers answers;
  answers.afr_constant = 14.7;
  auto r = signals::read_recording(csv, "drive.csv", answers);
  if (!r.ok()) stop_with(r.error());
  return std::move(*r);
}

std::string first_minutes(const std::string& csv, double minutes) {
  auto rows = static_cast<long>(minutes * 60 * kRowsPerSecond) + 1;  // and the header
  std::size_t end = 0;
  while (rows-- > 0 && end < csv.size()) {
    const std::size_t next = csv.find('\n', end);
    if (next == std::string::npos) return csv;
    end = next + 1;
  }
  return csv.substr(0, end);
}

Says averaged(const signals::Recording& r, const car::Surface& found, const Averaging& set) {
  const auto& n = r.find(Quantity::rpm)->si;
  const auto& p = r.find(Quantity::map)->si;
  const auto& lambda = r.find(Quantity::lambda)->si;
  const auto& target = r.find(Quantity::target)->si;
  const auto& correction = r.find(Quantity::correction)->si;
  const auto& pulse = r.find(Quantity::pulse_width)->si;
  const auto settle = static_cast<std::size_t>(set.settle_s / r.row_step->si);
  const auto delay = static_cast<std::size_t>(std::lround(set.delay_s / r.row_step->si));
  const std::vector<char> still_n = steady(n, settle, set.steady_ln);
  const std::vector<char> still_p = steady(p, settle, set.steady_ln);
  auto answer = std::make_shared<car::Surface>(car::Surface::flat(found.grid, 0.0));
  std::vector<double> weight(found.values.size(), 0.0);
  double all = 0, all_weight = 0, since_cut = 1e3;
  for (std::size_t i = settle; i + delay < r.rows; ++i) {
    since_cut = pulse[i] <= 0 ? 0 : since_cut + r.row_step->si;
    const double seen = lambda[i + delay];
    if (p[i] < kLowest_pa || since_cut < kAfterCut_s || seen > kLeanest || seen < kRichest)
      continue;
    if (!still_n[i] || !still_p[i]) continue;
    const double y = std::log(seen / target[i]) + std::log1p(correction[i]);
    all += y;
    all_weight += 1;
    const auto shares = found.grid.shares({.speed = rpm(n[i]), .map = absolute(p[i] * pascal)});
    for (int k = 0; k < shares.count; ++k) {
      const auto at = static_cast<std::size_t>(shares.node[static_cast<std::size_t>(k)]);
      answer->values[at] += shares.share[static_cast<std::size_t>(k)] * y;
      weight[at] += shares.share[static_cast<std::size_t>(k)];
    }
  }
  const double mean = all_weight > 0 ? all / all_weight : 0;
  const double pull = set.pull_s * kRowsPerSecond;
  for (std::size_t i = 0; i < weight.size(); ++i) {
    const double sum = weight[i] + pull;
    answer->values[i] = sum > 0 ? (answer->values[i] + pull * mean) / sum : 0;
  }
  return [answer](const car::OperatingPoint& at) { return Answer{answer->at(at), 0}; };
}

Says by_static_form(std::span<const signals::Recording> recordings, const TestCar& car,
                    advice::Way way) {
  advice::ObserveOptions observe;
  observe.way = way;
  std::vector<advice::Observer> observers;
  for (const signals::Recording& r : recordings) {
    auto observer = advice::Observer::make(r, car.sheet, car.table(), observe);
    if (!observer.ok()) stop_with(observer.error());
    observers.push_back(std::move(*observer));
  }
  advice::EstimateOptions options;
  options.instrument_level_sd = {advice::level_sd(way)};
  const int instrument = way == advice::Way::pulse_width ? 1 : 0;
  const auto samples = [&](const std::function<void(const advice::Sample&)>& f) {
    int run = 0, stretch = 0;
    for (const advice::Observer& o : observers) {
      o.each(instrument, run, stretch, f);
      run += o.runs();
      stretch += o.stretches();
    }
  };
  const auto e = std::make_shared<advice::MapEstimate>(
      advice::estimate(car.table(), car::TableWhat::ve, samples, options));
  return [e](const car::OperatingPoint& at) {
    const auto a = e->at(at);
    return Answer{a.ln, a.sd};
  };
}

Dynamic by_dynamic_form(std::span<const signals::Recording> recordings, const TestCar& car,
                        advice::Way way,
                        const std::function<void(advice::DynamicOptions&)>& settings) {
  const std::clock_t began = std::clock();
  advice::ObserveOptions observe;
  observe.way = way;
  std::vector<advice::Driving> drives;
  for (const signals::Recording& r : recordings) {
    auto driving = advice::Driving::of_sensors(r, car.sheet, car.table(), car.table(), observe);
    if (!driving.ok()) stop_with(driving.error());
    for (advice::Driving& d : *driving) drives.push_back(std::move(d));
  }
  advice::DynamicOptions options;
  options.dynamics = advice::DynamicsPrior::of(car.sheet);
  options.instrument_level_sd = {advice::level_sd(advice::Way::pulse_width)};
  if (settings) settings(options);
  Dynamic out{advice::estimate_dynamic(car.table(), car::TableWhat::ve, drives, {}, options)};
  out.seconds = static_cast<double>(std::clock() - began) / CLOCKS_PER_SEC;
  return out;
}

Says Dynamic::says() const {
  const auto e = std::make_shared<advice::MapEstimate>(estimate.map);
  return [e](const car::OperatingPoint& at) {
    const auto a = e->at(at);
    return Answer{a.ln, a.sd};
  };
}

}  // namespace fuelwright::bench
