// Full throttle: torque, power, fuel and spark of every engine of the ensemble, and their
// intervals.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "advice/prediction/prediction.h"
#include "base/contract.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::advice {

using namespace physics;

std::vector<CombustionUnstated> drawn_combustion(int count, std::uint64_t seed) {
  const auto spreads = combustion_spreads();
  const Eigen::MatrixXd z = normal_sample(count, static_cast<int>(spreads.size()), seed);
  std::vector<CombustionUnstated> out(static_cast<std::size_t>(count));
  for (int m = 0; m < count; ++m) {
    for (std::size_t k = 0; k < spreads.size(); ++k) {
      double& at = out[static_cast<std::size_t>(m)].*spreads[k].at;
      at += std::clamp(z(m, static_cast<Eigen::Index>(k)), -kMost_z, kMost_z) *
            spreads[k].half_width / k95;
    }
    auto& u = out[static_cast<std::size_t>(m)];
    u.completeness = std::min(u.completeness, 1.0);
  }
  return out;
}

namespace {

constexpr double kLeastAir_kg = 2e-6;  // of one charge; less does not burn

struct Point {
  double torque, power, air, fuel, bsfc, spark, exhaust, ve;
  bool knock_limited;
};

}  // namespace

AbsolutePressure open_throttle(const car::Sheet& sheet, EngineSpeed speed) {
  constexpr double kLoss = 0.02;  // of ambient at the rev limit; common practice, no source
  const double share = speed.rpm / std::max(1000.0, sheet.wishes.rev_limit.value.rpm);
  const double loss = kLoss * std::min(1.5, share * share);
  return absolute((1 - loss) * sheet.place.pressure.value.from_zero);
}

namespace {

Result<Point> point_of(const Burner& burner, const WorkingGas& gas, const AirNode& node,
                       const CombustionUnstated& u) {
  SparkSettings spark = burner.spark;
  spark.intervals = false;
  const ClosedCharge charge = charge_at(burner, node);
  FW_TRY(const BrakePoint b, brake(gas, charge, burner.engine, node.pumping, spark, u));
  Point p;
  p.torque = b.torque.value.si;
  p.power = b.power.value.si;
  // The injectors feed what passed the intake valve, also what went straight through.
  const double kept = std::max(0.5, 1 - node.short_circuit);
  p.fuel = b.fuel_flow.value.si / kept;
  p.air = node.trapped_air.si / kept * burner.engine.cylinders * node.speed.cycles_per_second();
  p.bsfc = p.power > 0 ? p.fuel / p.power : 0;
  p.spark = b.spark.degrees();
  p.exhaust = b.exhaust.value.from_zero.si;
  p.ve = node.ve;
  p.knock_limited = b.choice.knock_limited;
  return p;
}

struct Peak {
  double value, at;
};
// Largest value of a curve, by a parabola through the highest point and its neighbours.
Peak peak_of(const std::vector<EngineSpeed>& speeds, const std::vector<double>& y) {
  const auto i = static_cast<std::size_t>(std::max_element(y.begin(), y.end()) - y.begin());
  if (i == 0 || i + 1 == y.size()) return {y[i], speeds[i].rpm};
  const double x0 = speeds[i - 1].rpm, x1 = speeds[i].rpm, x2 = speeds[i + 1].rpm;
  const double a = (y[i + 1] - y[i]) / (x2 - x1), b = (y[i] - y[i - 1]) / (x1 - x0);
  const double curve = (a - b) / (x2 - x0);
  if (curve >= 0) return {y[i], x1};
  const double slope = b + curve * (x1 - x0);
  const double x = std::clamp(x1 - slope / (2 * curve), x0, x2);
  return {y[i] + slope * (x - x1) + curve * (x - x1) * (x - x1), x};
}

}  // namespace

Result<FullThrottle> full_throttle(const car::Sheet& sheet, const std::vector<AirMap>& members,
                                   std::uint64_t seed) {
  EXPECTS(!members.empty());
  FW_TRY(const Burner burner, burner_of(sheet));
  FW_TRY(const WorkingGas gas, working_gas(burner.fuel, sheet.wishes.full_throttle_mixture.value));
  const auto unstated = drawn_combustion(static_cast<int>(members.size()), seed);
  FullThrottle out;
  std::vector<EngineSpeed> speeds;
  const double least = std::min(1000.0, sheet.wishes.rev_limit.value.rpm / 4);
  for (const EngineSpeed s : members[0].speeds)
    if (s.rpm >= least) speeds.push_back(s);
  if (speeds.empty()) speeds = members[0].speeds;
  std::vector<std::vector<double>> torques(members.size()), powers(members.size()),
      airs(members.size());
  double air_squares = 0;
  for (const EngineSpeed s : speeds) {
    const AbsolutePressure p = open_throttle(sheet, s);
    std::vector<double> ve, torque, power, fuel, bsfc, spark, exhaust;
    double limited = 0, mean = 0, square = 0;
    for (std::size_t m = 0; m < members.size(); ++m) {
      const AirNode node = node_between(members[m], s, p);
      if (!node.reachable || node.trapped_air.si < kLeastAir_kg) {
        // Such an engine does not burn here: no torque, and nothing to say of spark and exhaust.
        torque.push_back(0);
        power.push_back(0);
        torques[m].push_back(0);
        powers[m].push_back(0);
        airs[m].push_back(0);
        continue;
      }
      FW_TRY(const Point q, point_of(burner, gas, node, unstated[m]));
      ve.push_back(q.ve);
      torque.push_back(q.torque);
      power.push_back(q.power);
      fuel.push_back(q.fuel);
      if (q.bsfc > 0) bsfc.push_back(q.bsfc);
      spark.push_back(q.spark);
      exhaust.push_back(q.exhaust);
      limited += q.knock_limited ? 1 : 0;
      mean += std::log(std::max(1e-3, q.ve));
      square += std::pow(std::log(std::max(1e-3, q.ve)), 2);
      torques[m].push_back(q.torque);
      powers[m].push_back(q.power);
      airs[m].push_back(q.air);
    }
    // A speed at which not half of them burn is left out of the curve.
    if (2 * ve.size() < members.size()) {
      for (std::size_t m = 0; m < members.size(); ++m) {
        torques[m].pop_back();
        powers[m].pop_back();
        airs[m].pop_back();
      }
      continue;
    }
    out.speeds.push_back(s);
    out.pressures.push_back(p);
    const double n = static_cast<double>(ve.size());
    air_squares += std::max(0.0, square / n - (mean / n) * (mean / n));
    out.ve.push_back(interval_of(ve));
    out.torque_nm.push_back(interval_of(torque));
    out.power_w.push_back(interval_of(power));
    out.fuel_kg_s.push_back(interval_of(fuel));
    out.bsfc_kg_j.push_back(bsfc.empty() ? Interval{} : interval_of(bsfc));
    out.spark_deg.push_back(interval_of(spark));
    out.exhaust_k.push_back(interval_of(exhaust));
    out.knock_limited.push_back(limited / n);
  }
  if (out.speeds.empty()) {
    return Error{ErrorCode::out_of_range, "full throttle",
                 "less than half of the engines that could be this one burn at any speed; expected "
                 "cam, valves and compression that go together"};
  }
  out.air_half_width = k95 * std::sqrt(air_squares / static_cast<double>(out.speeds.size()));
  std::vector<double> t, tr, w, wr;
  for (std::size_t m = 0; m < members.size(); ++m) {
    const Peak torque = peak_of(out.speeds, torques[m]), power = peak_of(out.speeds, powers[m]);
    t.push_back(torque.value);
    tr.push_back(torque.at);
    w.push_back(power.value);
    wr.push_back(power.at);
  }
  out.peak_torque_nm = interval_of(t);
  out.peak_torque_rpm = interval_of(tr);
  out.peak_power_w = interval_of(w);
  out.peak_power_rpm = interval_of(wr);
  out.air_of_kg_s = std::move(airs);
  out.power_of_w = std::move(powers);
  return out;
}

}  // namespace fuelwright::advice
