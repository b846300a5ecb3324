// Air that leaks into the exhaust before the sensor: lean at low flow, right at high flow.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "advice/doubts/internal/tests.h"
#include "advice/dynamic_estimate/theta.h"
#include "advice/map_estimate/observe.h"

namespace fuelwright::advice::doubts {
namespace {

constexpr double kLeakBefore = 0.05;   // (common practice, no source)
constexpr double kUsualLeak = 0.007;   // what a meter's curve and a sensor's leave
constexpr double kLeakSd = 0.06;       // of the mixture at idle flow
constexpr double kIdle_kg_s_m3 = 1.0;  // air at idle: 1 g/s a litre (common practice)
// An air meter's error over e times the flow: made to 3 % over forty times (from memory).
constexpr double kMeterTilt = 0.01;
constexpr double kDrift = 0.006;
constexpr double kLargestLean = 0.04;
// Steady, so that reading, pulse width and meter speak of one moment; and burning evenly: on a
// closed throttle in gear engines miss (common practice, no source).
constexpr double kSteady_s = 1.5;
constexpr double kQuickest = 0.2;  // of it, at the most flow
constexpr double kAfterCut_s = 4.0;
constexpr double kBurns_pa = 28e3;

double idling(double rpm, double map) {
  return std::clamp((1700 - rpm) / 850, 0.0, 1.0) * std::clamp((80e3 - map) / 35e3, 0.0, 1.0);
}

// Leak share at the row's flow for a leak of 1 at idle flow.
double shape(const Asked& asked, double air_kg_s) {
  const double idle = kIdle_kg_s_m3 * asked.sheet.engine.displacement.si();
  return std::min(idle / std::max(air_kg_s, 1e-9), 1.5);  // (doubts.8)
}

struct Said {
  Sample sample;
  bool by_pulse = false;
};

// What the mixture says of VE, against the believed table.
std::map<std::size_t, Said> by_mixture(const Asked& asked) {
  std::map<std::size_t, Said> out;
  ObserveOptions options;
  options.open_loop = asked.open_loop;
  // Against metered air the pulse width needs no charge temperature, and is the better witness.
  const bool metered = asked.recording.find(signals::Quantity::maf) != nullptr;
  const Way first = metered ? Way::pulse_width : Way::correction;
  for (const Way way : {first, metered ? Way::correction : Way::pulse_width}) {
    if (way == Way::correction && !asked.driven) continue;
    options.way = way;
    const auto o = Observer::make(asked.recording, asked.sheet, asked.believed, options);
    if (!o) continue;
    o->each(0, 0, 0, [&](Sample s) {
      if (way == Way::correction) s.y += std::log(asked.driven->at(s.at) / asked.believed.at(s.at));
      out.emplace(s.row, Said{s, way == Way::pulse_width});
    });
    break;
  }
  return out;
}

}  // namespace

std::optional<Doubt> leak_doubt(const Asked& asked, const Timeline& t) {
  if (t.step_s <= 0) return std::nullopt;  // no clock: what is steady cannot be seen
  const auto mixed = by_mixture(asked);
  if (mixed.empty()) return std::nullopt;
  ObserveOptions options;
  options.way = Way::metered_air;
  const auto meter = Observer::make(asked.recording, asked.sheet, asked.believed, options);
  std::map<std::size_t, double> metered;
  if (meter) meter->each(0, 0, 0, [&](const Sample& s) { metered.emplace(s.row, s.y); });
  const bool by_pulse = mixed.begin()->second.by_pulse;
  const DynamicsPrior usual = DynamicsPrior::of(asked.sheet);
  const double lean = usual.beside[kIdleLean], lean_sd = usual.beside_sd[kIdleLean];
  std::vector<FitRow> rows;
  for (const auto& [i, said] : mixed) {
    const Sample& s = said.sample;
    const auto air = metered.find(i);
    if (meter && air == metered.end()) continue;
    const double map = t.map[i], rpm = t.rpm[i], ti = t.intake[i];
    if (!(map > 0) || !(rpm > 0) || !(ti > 0)) continue;
    if (usual.dilution.at(rpm, map).mean > kLargestLean) continue;  // reads lean without any leak
    const double kg_s = asked.believed.at(s.at) * map * asked.sheet.engine.displacement.si() * rpm /
                        (120 * 287.05 * ti);
    // The gas takes less time where more of it flows.
    const double steady_s = kSteady_s * std::clamp(shape(asked, kg_s), kQuickest, 1.0);
    if (map < kBurns_pa || t.since_stirred_s[i] < steady_s || t.since_cut_s[i] < kAfterCut_s) {
      continue;
    }
    FitRow row{.at = asked.believed.grid.shares(s.at),
               .y = s.y - (meter ? air->second : 0.0),
               .sd = s.sd,
               .seconds = s.seconds,
               .run = s.run,
               .stretch = s.stretch};
    const double lift = (t.coolant[i] - ti) / ti;
    row.column = {shape(asked, kg_s),
                  idling(rpm, map),
                  1.0,
                  lift,
                  lift * std::min(std::sqrt(1e8 / (rpm * map)), 3.0),
                  std::log(kg_s / (20 * kIdle_kg_s_m3 * asked.sheet.engine.displacement.si())),
                  50e3 / map};
    if (meter) row.at.count = 0;  // two witnesses of one air: the table drops out
    rows.push_back(row);
  }
  if (rows.size() < 100) return std::nullopt;
  Model model;
  const auto nodes = static_cast<Eigen::Index>(asked.believed.grid.size());
  model.table = meter ? Eigen::MatrixXd(1e-6 * Eigen::MatrixXd::Identity(nodes, nodes))
                      : covariance(asked.prior, asked.believed.grid);
  if (!meter) {
    const Eigen::VectorXd mu = mean(asked.prior, asked.believed.grid);
    for (FitRow& r : rows) {
      for (int k = 0; k < r.at.count; ++k) r.y -= r.at.share[k] * mu[r.at.node[k]];
    }
  }
  // Leak; idle; level; charge temperature (two), which pulse width and meter share; the meter's
  // tilt; dead time (0.1 ms of 3 ms at 50 kPa).
  const double charge = meter ? (by_pulse ? 1e-3 : 0.1) : 0.05;
  model.columns = {{0, kLeakSd}, {lean, lean_sd}, {0, 0.1},
                   {0, charge},  {0, charge},     {0, meter ? kMeterTilt : 1e-3},
                   {0, 0.03}};
  model.drift_sd = kDrift;
  const Fit fit(model, rows);
  const About leak{fit.mean(0), fit.variance(0)};
  Doubt d;
  d.kind = Kind::exhaust_leak;
  d.ln_b = ln_above_zero(likelihood_of(leak, {0, kLeakSd * kLeakSd}), kUsualLeak, kLeakSd);
  d.probability = probability(d.ln_b, kLeakBefore);
  d.size = leak.mean;
  d.size_sd = std::sqrt(leak.variance);
  d.says = fmt::format(
      "the mixture reads {:.0f} % too lean at low flow and right at high flow{}: look for a leak "
      "in "
      "the exhaust before the sensor, and drive again",
      100 * leak.mean, meter ? ", against the metered air" : "");
  return d;
}

}  // namespace fuelwright::advice::doubts
