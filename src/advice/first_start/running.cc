#include "advice/first_start/running.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include "base/contract.h"
#include "car/build/derived.h"

namespace fuelwright::advice {
namespace {

using physics::AirMap;
using physics::Interval;

constexpr double kTo95 = 1.959964;
constexpr double kMapSd_pa = 350;        // of a sound sensor, as sensor_checks takes it
constexpr double kRunInReserve_deg = 2;  // spark below best torque in the table's middle (first.9)
constexpr double kWarm_k = 273.15 + 88;

double phi(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

// ln lambda of each engine, and one normal doubt around all.
struct Spread {
  std::vector<double> ln;
  double sd = 0;
  double above(double x) const {
    double sum = 0;
    for (const double v : ln) sum += phi((v - x) / sd);
    return sum / static_cast<double>(ln.size());
  }
  // Where a share of `share` lies above.
  double from_top(double share) const {
    const auto [least, most] = std::minmax_element(ln.begin(), ln.end());
    double low = *least - 8 * sd, high = *most + 8 * sd;
    for (int i = 0; i < 80; ++i) {
      const double x = 0.5 * (low + high);
      (above(x) > share ? low : high) = x;
    }
    return 0.5 * (low + high);
  }
  Interval lambda(double shift = 0) const {
    return {std::exp(from_top(0.975) - shift), std::exp(from_top(0.5) - shift),
            std::exp(from_top(0.025) - shift)};
  }
};

struct Asked {
  const car::Sheet& sheet;
  const std::vector<AirMap>& members;
  const car::Calibration& calibration;
  const RunningOptions& options;
};

car::Lambda target_of(const Asked& a, const NoLoad& at) {
  const car::Surface* s = a.calibration.find(car::TableWhat::lambda_target);
  if (!s) return at.mixture;
  return car::lambda(s->at(
      {.speed = at.speed, .map = absolute(40.0 * kPa), .ambient = a.sheet.place.pressure.value}));
}

// VE of each engine where it stands, by its parts or by what was driven.
MembersThere there(const Asked& a, const Idle& held) {
  MembersThere out;
  double sd = 0;
  for (std::size_t i = 0; i < held.map_of_pa.size(); ++i) {
    const car::OperatingPoint point{.speed = held.speed,
                                    .map = absolute(held.map_of_pa[i] * pascal),
                                    .ambient = a.sheet.place.pressure.value};
    out.map_pa.push_back(held.map_of_pa[i]);
    if (!a.options.evidence) {
      out.ve.push_back(node_between(a.members[held.engine_of[i]], held.speed, point.map).ve);
      continue;
    }
    const car::Evidence& e = *a.options.evidence;
    const car::NodeShares shares = e.grid.shares(point);
    double ln = 0;
    for (int k = 0; k < shares.count; ++k) {
      const auto node = static_cast<std::size_t>(shares.node[static_cast<std::size_t>(k)]);
      const double share = shares.share[static_cast<std::size_t>(k)];
      ln += share * std::log(e.estimate[node]);
      sd += share * e.sd_log[node] / static_cast<double>(held.map_of_pa.size());
    }
    out.ve.push_back(std::exp(ln));
  }
  out.own_sd = sd;
  return out;
}

std::optional<TableThere> judged(const Asked& a, const Idle& held, car::Lambda target,
                                 car::Lambda limit) {
  const car::Surface* table = a.calibration.find(car::TableWhat::ve);
  if (!table || held.map_of_pa.empty()) return std::nullopt;
  MembersThere members = there(a, held);
  const double cycles = held.speed.rpm / 120;
  const car::Injection& in = a.sheet.injection;
  const double squirt =
      held.air_kg_s.middle / (target.value * a.sheet.fuel.stoichiometric.si() * cycles *
                              in.injector_count.value * in.squirts_per_cycle.si());
  const double mean = std::accumulate(members.map_pa.begin(), members.map_pa.end(), 0.0) /
                      static_cast<double>(members.map_pa.size());
  members.fuel_sd = fuel_doubt(a.sheet, squirt * kg, absolute(mean * pascal));
  return table_there(members, *table, a.calibration.find(car::TableWhat::lambda_target), target,
                     held.speed, a.sheet.place.pressure.value, limit, a.options.lean_chance);
}

Result<PlaceWithoutLoad> place(const Asked& a, NoLoad at, car::Lambda limit) {
  PlaceWithoutLoad out;
  out.speed = at.speed;
  at.mixture = target_of(a, at);
  FW_TRY(const Idle warm, no_load(a.sheet, a.members, a.options.seed, at));
  out.runs = warm.runs;
  out.map_pa = warm.map_pa;
  out.air_kg_s = warm.air_kg_s;
  out.residual = warm.residual;
  out.table = judged(a, warm, at.mixture, limit);
  if (!a.options.start) return out;
  at.friction = cold_friction(a.calibration, *a.options.start);
  if (!(at.friction > 1.05)) return out;
  FW_TRY(const Idle cold, no_load(a.sheet, a.members, a.options.seed, at));
  out.cold_map_pa = cold.map_pa;
  // The table must be right in both: the leaner one counts.
  const auto also = judged(a, cold, at.mixture, limit);
  if (also && (!out.table || also->richer > out.table->richer ||
               also->chance_lean > out.table->chance_lean)) {
    out.table = also;
  }
  return out;
}

Status check(const RunningOptions& o) {
  if (!(o.lean_limit.value >= 0.85 && o.lean_limit.value <= 1.10)) {
    return Error{ErrorCode::out_of_range, "lean limit",
                 fmt::format("lambda {:.4g} came; expected 0.85 to 1.10", o.lean_limit.value)};
  }
  if (!(o.lean_chance >= 0.0005 && o.lean_chance <= 0.2)) {
    return Error{ErrorCode::out_of_range, "lean chance",
                 fmt::format("{:.4g} came; expected 0.0005 to 0.2", o.lean_chance)};
  }
  return Done{};
}

}  // namespace

double fuel_doubt(const car::Sheet& sheet, Mass squirt, AbsolutePressure map) {
  const car::Injection& in = sheet.injection;
  const auto share = [](const auto& known) { return known.tolerance_si() / known.si() / kTo95; };
  const double flow =
      in.injector_flow.si() * std::sqrt(in.regulator_pressure.si() / in.injector_pressure.si());
  const double open_s = std::max(1e-5, squirt.si / flow);
  const double parts[] = {share(in.injector_flow),
                          0.5 * share(in.injector_pressure),
                          0.5 * share(in.regulator_pressure),
                          0.5 * share(sheet.fuel.density),
                          share(sheet.fuel.stoichiometric),
                          in.dead_time.tolerance_si() / kTo95 / open_s,
                          kMapSd_pa / map.from_zero.si};
  double sum = 0;
  for (const double p : parts) sum += p * p;
  return std::sqrt(sum);
}

double cold_friction(const car::Calibration& calibration, Temperature start) {
  const car::Curve* air = calibration.find(car::CurveWhat::idle_air);
  const car::Curve* speed = calibration.find(car::CurveWhat::idle_speed);
  if (!air || !speed) return 1;
  const auto at = [&](double k) { return air->at(k) / speed->at(k); };
  return std::clamp(at(start.from_zero.si) / at(kWarm_k), 1.0, 4.0);
}

TableThere table_there(const MembersThere& members, const car::Surface& table,
                       const car::Surface* target, car::Lambda otherwise, EngineSpeed speed,
                       AbsolutePressure ambient, car::Lambda limit, double lean_chance) {
  EXPECTS(!members.ve.empty() && members.ve.size() == members.map_pa.size());
  Spread spread;
  spread.sd = std::max(1e-4, std::hypot(members.fuel_sd, members.own_sd));
  double aim = 0;
  for (std::size_t i = 0; i < members.ve.size(); ++i) {
    const car::OperatingPoint point{
        .speed = speed, .map = absolute(members.map_pa[i] * pascal), .ambient = ambient};
    const double wanted = target ? target->at(point) : otherwise.value;
    aim += wanted / static_cast<double>(members.ve.size());
    spread.ln.push_back(std::log(wanted * members.ve[i] / table.at(point)));  // (first_start.5)
  }
  TableThere out;
  out.target = car::lambda(aim);
  out.lambda = spread.lambda();
  out.half_width = 0.5 * std::log(out.lambda.high / out.lambda.low);
  out.limit = limit;
  out.chance_lean = spread.above(std::log(limit.value));  // (first_start.6)
  out.chance_taken = lean_chance;
  const double over = spread.from_top(lean_chance) - std::log(limit.value);
  out.richer = std::max(0.0, std::expm1(over));
  out.lambda_then = spread.lambda(std::max(0.0, over));
  return out;
}

Result<Running> running_of(const car::Sheet& sheet, const physics::Ensemble& ensemble,
                           const car::Calibration& calibration, const RunningOptions& options) {
  FW_CHECK(check(options));
  // As predict_engine() draws them: the same idle comes out.
  const std::vector<AirMap> members = ensemble.honest_members(options.seed + kOfDiscrepancy);
  RunningOptions drawn = options;
  drawn.seed = options.seed + kOfBurn;
  const Asked asked{sheet, members, calibration, drawn};
  Running out;
  out.engines = static_cast<int>(members.size());
  out.by_driving = options.evidence != nullptr;
  FW_TRY(out.idle,
         place(asked,
               {.speed = sheet.wishes.idle_speed.value, .mixture = sheet.wishes.idle_mixture.value},
               options.idle_limit));
  if (!options.run_in) return out;
  for (const double n : {kRunInFrom_rpm, 0.5 * (kRunInFrom_rpm + kRunInTo_rpm), kRunInTo_rpm}) {
    FW_TRY(PlaceWithoutLoad one, place(asked,
                                       {.speed = rpm(n),
                                        .mixture = sheet.wishes.cruise_mixture.value,
                                        .below_best_deg = kRunInReserve_deg},
                                       options.lean_limit));
    out.run_in.push_back(std::move(one));
  }
  return out;
}

}  // namespace fuelwright::advice
