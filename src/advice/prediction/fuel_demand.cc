#include "advice/prediction/fuel_demand.h"

#include <algorithm>
#include <cmath>
#include <future>

namespace fuelwright::advice {
namespace {

using namespace physics;

supply::Demand demand_of(const FullThrottle& full, const Idle& idle, car::Lambda at_idle) {
  supply::Demand d;
  d.speeds = full.speeds;
  d.manifold = full.pressures;
  for (std::size_t m = 0; m < full.air_of_kg_s.size(); ++m) {
    d.air.emplace_back();
    d.power.emplace_back();
    for (const double air : full.air_of_kg_s[m]) d.air.back().push_back(MassFlow{air});
    for (const double power : full.power_of_w[m])
      d.power.back().push_back(Power{std::max(0.0, power)});
  }
  if (!idle.map_pa) return d;
  d.idle.speed = idle.speed;
  d.idle.manifold = absolute(PressureStep{idle.map_pa->middle});
  d.idle.lambda = at_idle;
  for (const double air : idle.air_of_kg_s) d.idle.air.push_back(MassFlow{air});
  return d;
}

struct Place {
  EngineSpeed speed;
  SparkChoice choice;
  AirNode node;
};

// Of the indicated work, by spark held back from its best.
double work_lost(const SparkChoice& c) {
  return std::max(0.0, 1 - c.cycle.gross_imep / c.best.gross_imep);
}
// Between the best spark and knock; below 0 where knock comes first.
double room(const SparkChoice& c) { return (c.knock_limit - c.mbt).rad; }

class Knocking {
 public:
  Knocking(Burner burner, WorkingGas gas) : burner_(std::move(burner)), gas_(std::move(gas)) {
    burner_.spark.intervals = false;
    burner_.spark.margin = crank_degrees(0);
  }

  std::optional<SparkChoice> at(const AirNode& node, double octane, double compression,
                                bool intervals = false) const {
    Burner b = burner_;
    b.engine.shape.compression = compression;
    SparkSettings settings = b.spark;
    settings.ron = octane;
    settings.intervals = intervals;
    auto found = spark(gas_, charge_at(b, node), settings);
    return found ? std::optional(*found) : std::nullopt;
  }
  bool free(const AirNode& node, double octane, double compression) const {
    const auto found = at(node, octane, compression);
    return found && !found->knock_limited;
  }
  const Burner& burner() const { return burner_; }

 private:
  Burner burner_;
  WorkingGas gas_;
};

// The least (or, falling, the most) at which it is true, between the ends; it is true at `yes`.
template <class Is>
double border(double no, double yes, Is is) {
  for (int i = 0; i < 8; ++i) {
    const double middle = (no + yes) / 2;
    (is(middle) ? yes : no) = middle;
  }
  return yes;
}

std::vector<AirNode> full_throttle_nodes(const car::Sheet& sheet, const AirMap& centre) {
  const double limit = sheet.wishes.rev_limit.value.rpm;
  // Nobody stands at full throttle below it for long, and tables hold spark back there (practice).
  const double least = std::min(2000.0, limit / 2);
  std::vector<AirNode> out;
  for (const EngineSpeed s : centre.speeds) {
    if (s.rpm < least || s.rpm > limit) continue;
    const AirNode node =
        node_between(centre, s, absolute(0.99 * sheet.place.pressure.value.from_zero));
    if (node.reachable && node.trapped_air.si > 0) out.push_back(node);
  }
  return out;
}

}  // namespace

Result<Asked> fuel_demand(const car::Sheet& sheet, const Ensemble& ensemble,
                          const PredictionSettings& settings) {
  // The same draws as predict_engine(): what both show is one engine.
  const std::vector<AirMap> members = ensemble.honest_members(settings.seed + kOfDiscrepancy);
  Asked out;
  // Two questions that do not know each other: the second core answers one of them.
  auto idle = std::async(std::launch::async,
                         [&] { return idle_of(sheet, members, settings.seed + kOfBurn); });
  auto full = full_throttle(sheet, members, settings.seed + kOfBurn);
  FW_TRY(out.idle, idle.get());
  FW_TRY(out.full, std::move(full));
  out.demand = demand_of(out.full, out.idle, sheet.wishes.idle_mixture.value);
  return out;
}

Result<KnockRoom> knock_room(const car::Sheet& sheet, const AirMap& centre) {
  FW_TRY(Burner burner, burner_of(sheet));
  FW_TRY(WorkingGas gas, working_gas(burner.fuel, sheet.wishes.full_throttle_mixture.value));
  const Knocking knocking(std::move(burner), gas);
  KnockRoom out;
  out.octane = sheet.fuel.octane.value;
  out.compression = sheet.engine.compression.value;
  std::optional<Place> worst;
  for (const AirNode& node : full_throttle_nodes(sheet, centre)) {
    const auto found = knocking.at(node, out.octane, out.compression);
    if (!found) continue;
    if (!worst || work_lost(*found) > work_lost(worst->choice) ||
        (work_lost(worst->choice) <= 0 && room(*found) < room(worst->choice)))
      worst = Place{node.speed, *found, node};
  }
  if (!worst) {
    return Error{ErrorCode::out_of_range, "knock",
                 "the engine of the sheet burns at no speed of full throttle; expected one"};
  }
  const AirNode& node = worst->node;
  out.speed = worst->speed;
  const auto wide = knocking.at(node, out.octane, out.compression, true);
  out.mbt_deg = worst->choice.mbt.degrees();
  out.limit_deg = worst->choice.knock_limit.degrees();
  out.limit_half_width_deg = wide ? wide->knock_limit_half_width.degrees() : 0;
  out.torque_lost = work_lost(worst->choice);
  if (!worst->choice.knock_limited) return out;
  constexpr double kMostOctane = 120, kLeastCompression = 6;
  const auto with_octane = [&](double ron) { return knocking.free(node, ron, out.compression); };
  const auto with_compression = [&](double r) { return knocking.free(node, out.octane, r); };
  if (with_octane(kMostOctane)) out.octane_needed = border(out.octane, kMostOctane, with_octane);
  if (with_compression(kLeastCompression))
    out.compression_free = border(out.compression, kLeastCompression, with_compression);
  return out;
}

}  // namespace fuelwright::advice
