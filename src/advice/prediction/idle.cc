// Idle by energy: as much burnt as friction, pumping and the accessories take.
#include <algorithm>
#include <cmath>

#include "advice/prediction/prediction.h"
#include "base/contract.h"

namespace fuelwright::advice {

using namespace physics;

namespace {

// What is driven at idle beside what friction() counts (alternator with lamps and fan, hydraulic
// pump): common practice, no source.
constexpr double kDriven_w = 800;
constexpr double kStep_pa = 1e3;

// Net work over V_d at an idle place, after friction [Pa]; the spark it was computed with.
Result<double> surplus(const Burner& burner, const WorkingGas& gas, const AirNode& node,
                       const CombustionUnstated& u, double spark_deg, double stiff, bool* burns) {
  const ClosedCharge charge = charge_at(burner, node);
  FW_TRY(const ClosedCycle cycle, closed_cycle(gas, charge, crank_degrees(spark_deg), u));
  FW_TRY(const Friction f, friction(burner.engine, node.speed, node.map));
  const double swept = burner.engine.cylinders * swept_volume(burner.engine.shape).si;
  const double driven = kDriven_w / (swept * node.speed.rpm / 120);
  *burns = cycle.burn.verdict != BurnVerdict::misfire && node.reachable;
  return cycle.gross_imep.si - node.pumping.si - stiff * u.friction * f.total().si - driven;
}

}  // namespace

Result<Idle> idle_of(const car::Sheet& sheet, const std::vector<AirMap>& members,
                     std::uint64_t seed) {
  // Spark is kept in hand for the idle speed control (common practice): NoLoad::below_best_deg.
  return no_load(
      sheet, members, seed,
      {.speed = sheet.wishes.idle_speed.value, .mixture = sheet.wishes.idle_mixture.value});
}

Result<Idle> no_load(const car::Sheet& sheet, const std::vector<AirMap>& members,
                     std::uint64_t seed, const NoLoad& at) {
  EXPECTS(!members.empty());
  FW_TRY(const Burner burner, burner_of(sheet));
  FW_TRY(const WorkingGas gas, working_gas(burner.fuel, at.mixture));
  const auto unstated = drawn_combustion(static_cast<int>(members.size()), seed);
  Idle out;
  out.speed = at.speed;
  const double ambient = sheet.place.pressure.value.from_zero.si;
  std::vector<double> maps, airs;
  double residual = 0, spark = 0;
  for (std::size_t m = 0; m < members.size(); ++m) {
    const auto& pressures = members[m].pressures;
    double before = -1, at_before = 0;
    for (double p = pressures.front().from_zero.si;
         p <= std::min(ambient, pressures.back().from_zero.si); p += kStep_pa) {
      const AirNode node = node_between(members[m], out.speed, absolute(p * pascal));
      if (!node.reachable || node.trapped_air.si <= 0) continue;
      SparkSettings search = burner.spark;
      search.intervals = false;
      // A charge that cannot be burnt at all (too little, too hot) does not carry the engine.
      const auto best = physics::spark(gas, charge_at(burner, node), search, unstated[m]);
      if (!best) continue;
      const double advance = std::max(0.0, best->mbt.degrees() - at.below_best_deg);
      bool burns = false;
      FW_TRY(const double now,
             surplus(burner, gas, node, unstated[m], advance, at.friction, &burns));
      if (!burns) continue;
      if (now >= 0) {
        const double back =
            before < 0 && at_before > 0 ? now / (now - before) : 0;  // of the last step
        const double map = p - back * kStep_pa;
        const AirNode there = node_between(members[m], out.speed, absolute(map * pascal));
        maps.push_back(map);
        out.engine_of.push_back(m);
        const double cycles = out.speed.rpm / 120 * burner.engine.cylinders;
        airs.push_back(there.trapped_air.si / std::max(0.5, 1 - there.short_circuit) * cycles);
        residual += there.residual;
        spark += advance;
        break;
      }
      before = now;
      at_before = p;
    }
  }
  out.runs = static_cast<double>(maps.size()) / static_cast<double>(members.size());
  if (maps.empty()) return out;
  out.residual = residual / static_cast<double>(maps.size());
  out.spark_deg = spark / static_cast<double>(maps.size());
  out.air_kg_s = interval_of(airs);
  if (out.runs > 0.5) out.map_pa = interval_of(maps);
  out.air_of_kg_s = std::move(airs);
  out.map_of_pa = std::move(maps);
  return out;
}

}  // namespace fuelwright::advice
