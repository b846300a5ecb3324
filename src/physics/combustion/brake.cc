// From one cylinder's cycle to torque, power and fuel at the crankshaft, with half-widths
// (docs/theory/combustion.md, section 6).
#include <cmath>
#include <numbers>

#include "physics/combustion/internal/start.h"

namespace fuelwright::physics {
namespace {

constexpr double kHalfTurn = std::numbers::pi;
// What no constant carries: the ends of the strokes by rule, no crevice flow, no blow-by; of the
// indicated work, 95 % (judgement, no source). The same for the exhaust: heat while the valve
// opens.
constexpr double kStructure = 0.02;
constexpr double kExhaustStructure_k = 30;
constexpr double kBestSpread = 3 * kHalfTurn / 180;  // flatness of the optimum

double half_width_of(double CombustionUnstated::*member) {
  for (const CombustionSpread& s : combustion_spreads()) {
    if (s.at == member) return s.half_width;
  }
  EXPECTS(false);
  return 0;
}

/// The cycle again with one factor moved by its half-width, the spark following the burn.
Result<ClosedCycle> moved(const WorkingGas& gas, const ClosedCharge& charge, CrankAngle spark,
                          const CombustionUnstated& unstated, double CombustionUnstated::*member) {
  CombustionUnstated other = unstated;
  const double step = half_width_of(member);
  other.*member += member == &CombustionUnstated::completeness ? -step : step;
  FW_TRY(const Burn was, burn(gas, charge, spark, unstated));
  FW_TRY(const Burn is, burn(gas, charge, spark, other));
  const CrankAngle follow{
      std::clamp(spark.rad + is.ca50.rad - was.ca50.rad, -kHalfTurn / 3, kHalfTurn / 2)};
  return closed_cycle(gas, charge, follow, other);
}

constexpr double CombustionUnstated::*kIndicated[] = {
    &CombustionUnstated::burn, &CombustionUnstated::heat, &CombustionUnstated::completeness};

struct Spreads {
  double imep = 0, exhaust = 0, spark = 0;  // squares
};

Result<Spreads> spreads_of(const WorkingGas& gas, const ClosedCharge& charge,
                           const SparkChoice& choice, const CombustionUnstated& unstated) {
  Spreads sum;
  const auto square = [](double x) { return x * x; };
  for (const auto member : kIndicated) {
    FW_TRY(const ClosedCycle c, moved(gas, charge, choice.used, unstated, member));
    sum.imep += square((c.gross_imep - choice.cycle.gross_imep).si);
    sum.exhaust += square((c.exhaust - choice.cycle.exhaust).si);
  }
  sum.imep += square(kStructure * choice.cycle.gross_imep.si);
  sum.exhaust += square(kExhaustStructure_k);
  if (choice.knock_limited) {
    const double half = choice.knock_limit_half_width.rad;
    sum.spark = square(half);
    const CrankAngle late{std::max(choice.used.rad - half, -kHalfTurn / 4)};
    FW_TRY(const ClosedCycle c, closed_cycle(gas, charge, late, unstated));
    sum.imep += square((c.gross_imep - choice.cycle.gross_imep).si);
    sum.exhaust += square((c.exhaust - choice.cycle.exhaust).si);
  } else {
    CombustionUnstated slow = unstated;
    slow.burn += half_width_of(&CombustionUnstated::burn);
    FW_TRY(const Burn b, burn(gas, charge, choice.used, slow));
    sum.spark = square(b.ca50.rad - choice.cycle.burn.ca50.rad) + square(kBestSpread);
  }
  return sum;
}

/// The same air at the same temperature with another mixture: pressure by the gas law.
Result<ClosedCharge> with_mixture(const WorkingGas& a, const WorkingGas& b,
                                  const ClosedCharge& charge) {
  FW_TRY(const Start sa, start_of(a, charge));
  FW_TRY(const Start sb, start_of(b, charge));
  ClosedCharge other = charge;
  other.pressure = absolute(charge.pressure.from_zero * (sa.t / sb.t));
  return other;
}

}  // namespace

Result<BrakePoint> brake(const WorkingGas& gas, const ClosedCharge& charge,
                         const EngineBuild& engine, PressureStep pumping,
                         const SparkSettings& settings, const CombustionUnstated& unstated) {
  if (!(std::abs(pumping.si) <= 500e3)) {
    return Error{ErrorCode::out_of_range, "pumping", "expected -500 to 500 kPa"};
  }
  if (!(charge.shape == engine.shape)) {
    return Error{
        ErrorCode::out_of_range, "engine.shape",
        "expected the cylinder that the charge is in; bore, stroke, rod or compression differ"};
  }
  FW_TRY(SparkChoice choice, spark(gas, charge, settings, unstated));
  FW_TRY(const Friction rub, friction(engine, charge.speed, charge.pressure));
  BrakePoint out;
  out.gross_imep = choice.cycle.gross_imep;
  out.friction = unstated.friction * rub.total();
  out.pumping = pumping;
  out.bmep.value = out.gross_imep - out.friction - pumping;
  const double displaced = swept_volume(engine.shape).si * engine.cylinders;
  const double per_torque = displaced / (4 * kHalfTurn),
               omega = charge.speed.rpm * 2 * kHalfTurn / 60;
  out.torque.value = out.bmep.value.si * per_torque * newton_metre;
  out.power.value = out.torque.value.si * omega * watt;
  const double cycles = charge.speed.cycles_per_second() * engine.cylinders;
  out.fuel_flow.value = choice.cycle.fuel.si * cycles * kg_per_s;
  const bool gives = out.power.value.si > 0;
  if (gives) out.bsfc.value = {out.fuel_flow.value.si / out.power.value.si};
  out.exhaust.value = choice.cycle.exhaust;
  out.spark = choice.used;
  out.combustion_efficiency = choice.cycle.combustion_efficiency;
  if (settings.intervals) {
    FW_TRY(const Spreads s, spreads_of(gas, charge, choice, unstated));
    const double rubbing = half_width_of(&CombustionUnstated::friction) * rub.total().si;
    const double half = std::sqrt(s.imep + rubbing * rubbing);  // (combustion.15)
    out.bmep.half_width = half * pascal;
    out.torque.half_width = half * per_torque * newton_metre;
    out.power.half_width = half * per_torque * omega * watt;
    if (gives) out.bsfc.half_width = (half / out.bmep.value.si) * out.bsfc.value;
    out.exhaust.half_width = {std::sqrt(s.exhaust)};
    out.spark_half_width = {std::sqrt(s.spark)};
  }
  out.choice = std::move(choice);
  return out;
}

Result<MixtureCost> mixture_cost(const WorkingGas& a, const WorkingGas& b,
                                 const ClosedCharge& charge_of_a, const EngineBuild& engine,
                                 PressureStep pumping, const SparkSettings& settings) {
  FW_TRY(const ClosedCharge charge_of_b, with_mixture(a, b, charge_of_a));
  FW_TRY(const BrakePoint pa, brake(a, charge_of_a, engine, pumping, settings));
  FW_TRY(const BrakePoint pb, brake(b, charge_of_b, engine, pumping, settings));
  if (!(pa.torque.value.si > 0) || !(pb.torque.value.si > 0)) {
    return Error{ErrorCode::out_of_range, "charge",
                 "the engine gives no torque here, so that a share of it says nothing"};
  }
  MixtureCost out;
  out.torque = pb.torque.value / pa.torque.value - 1;
  out.fuel = pb.fuel_flow.value / pa.fuel_flow.value - 1;
  out.bsfc = (1 + out.fuel) / (1 + out.torque) - 1;
  out.spark = pb.spark - pa.spark;
  out.exhaust = pb.exhaust.value - pa.exhaust.value;
  if (!settings.intervals) return out;
  double sum = 0;
  for (const auto member : kIndicated) {  // what both mixtures share cancels
    FW_TRY(const ClosedCycle ca, moved(a, charge_of_a, pa.spark, {}, member));
    FW_TRY(const ClosedCycle cb, moved(b, charge_of_b, pb.spark, {}, member));
    const double rest = pa.friction.si + pumping.si;
    const double ratio = (cb.gross_imep.si - rest) / (ca.gross_imep.si - rest) - 1;
    sum += (ratio - out.torque) * (ratio - out.torque);
  }
  out.indicated_half_width = std::sqrt(sum);
  return out;
}

}  // namespace fuelwright::physics
