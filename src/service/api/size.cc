// A size as JSON.
#include <nlohmann/json.hpp>

#include "service/api/json.h"
#include "service/api/pieces.h"

namespace fuelwright::service {
namespace {

using namespace physics::supply;
using pieces::interval;
using pieces::Json;

Json row(const SpeedRow& r, const System& s) {
  const OperatingPoint& p = r.point;
  return {{"speed_rpm", r.need.speed.rpm},
          {"map_pa", r.need.manifold.from_zero.si},
          {"power_w", interval(r.power_w)},
          {"demand_kg_s", interval(r.fuel_kg_s)},
          {"demand_m3_s", r.need.fuel.si / s.tank_density().si},
          {"rule_of_thumb_kg_s", {{"low", r.rule.low.si}, {"high", r.rule.high.si}}},
          {"pump_kg_s", interval(r.pump_kg_s)},
          {"injectors_kg_s", interval(r.injectors_kg_s)},
          {"margin", interval(r.margin)},
          {"margin_middle", r.middle.least()},
          {"short_share", r.short_share},
          {"rail_set_pa", set_pressure(s, r.need.manifold).above_ambient.si},
          {"rail_pa", p.rail.above_ambient.si},
          {"rail_held", p.rail_held},
          {"across_nozzle_pa", p.across.si},
          {"pump_pressure_pa", p.pump_pressure.si},
          {"pump_volts", p.pump_volts.si},
          {"pump_current_a", p.pump_current.si},
          {"pumped_m3_s", p.pumped.si},
          {"returned_m3_s", p.returned.si},
          {"pulse_s", p.pulse.total.si},
          {"pulse_effective_s", p.pulse.effective.si},
          {"left_s", p.pulse.left.si},
          {"duty", p.pulse.duty},
          {"leaner", p.leaner},
          {"inlet_boils", p.inlet_boils}};
}

Json curve(const SupplyAnswer& a) {
  Json out = Json::array();
  for (const SpeedRow& r : a.curve) out.push_back(row(r, a.middle));
  return out;
}

const char* name_of_side(Side side) {
  constexpr const char* kNames[] = {"injectors", "pump", "lift"};
  return kNames[static_cast<std::size_t>(side)];
}

Json first(const Shortage& f) {
  return {{"part", name_of(f.part)}, {"side", name_of_side(f.side)},
          {"speed_rpm", f.at.rpm},   {"power_w", f.power.si},
          {"margin", f.margin},      {"worst_speed_rpm", f.worst_at.rpm}};
}

Json sides(const SupplyAnswer& a) {
  Json out = Json::object();
  for (const Side side : kSides) {
    const SideAnswer& s = a.sides[static_cast<std::size_t>(side)];
    if (!s.there) continue;
    out[name_of_side(side)] = {
        {"margin", s.margin},
        {"margin_speed_rpm", s.margin_at.rpm},
        {"spread", interval(s.spread)},
        {"short_chance", s.short_chance},
        {"runs_out_rpm", s.runs_out ? Json(s.runs_out->rpm) : Json(nullptr)}};
  }
  return out;
}

Json shares(const std::vector<Share>& shares) {
  Json out = Json::array();
  for (const Share& s : shares) out.push_back({{"part", name_of(s.part)}, {"share", s.share}});
  return out;
}

Json idle(const IdleAnswer& i, const Injectors& in) {
  if (!i.looked_at) return nullptr;
  return {{"pulse_effective_s", interval(i.effective_s)},
          {"pulse_s", interval(i.total_s)},
          {"duty", interval(i.duty)},
          {"least_pulse_s", in.least_pulse.si},
          {"too_large_share", i.too_large},
          {"largest_flow_ratio", i.largest_flow},
          {"rail_above_set_pa", i.rail_above.si}};
}

Json vapour(const VapourMargin& v, const System& s) {
  return {{"tank_k", s.tank.from_zero.si},
          {"inlet_left_pa", v.inlet.si},
          {"inlet_boils_k", v.inlet_boils_at.from_zero.si},
          {"rail_left_pa", v.rail.si},
          {"rail_boils_k", v.rail_boils_at.from_zero.si}};
}

Json cures(const std::vector<SaidCure>& said) {
  Json out = Json::array();
  for (const SaidCure& one : said) {
    const Cure& c = one.cure;
    out.push_back({{"change", name_of(c.what)},
                   {"part", name_of(c.part)},
                   {"from_si", c.from_si},
                   {"to_si", c.to_si},
                   {"sold_si", c.sold_si},
                   {"restores", c.restores},
                   {"margin", c.margin},
                   {"words", one.words}});
  }
  return out;
}

Json worth(const std::vector<SaidWorth>& said) {
  Json out = Json::array();
  for (const SaidWorth& one : said) {
    const Worth& w = one.worth;
    out.push_back({{"measurement", name_of(w.what)},
                   {"half_width_95_before", w.before},
                   {"half_width_95_after", w.after},
                   {"wrong_before", w.wrong_before},
                   {"wrong_after", w.wrong_after},
                   {"takes_s", w.takes.si},
                   {"needs_pull", w.needs_pull},
                   {"words", one.words}});
  }
  return out;
}

Json typical(const std::vector<car::Line>& lines) {
  Json out = Json::array();
  for (const car::Line& l : lines) {
    out.push_back({{"section", l.section},
                   {"key", l.key},
                   {"about", l.about},
                   {"value", l.value},
                   {"tolerance", l.tolerance},
                   {"reason", l.reason}});
  }
  return out;
}

Json bounds(const std::vector<physics::limits::Bound>& bounds) {
  Json out = Json::array();
  for (const auto& b : bounds)
    out.push_back({{"by", physics::limits::name_of(b.by)}, {"rpm", interval(b.rpm)}});
  return out;
}

Json rev(const physics::limits::RevLimit& r) {
  return {{"hard_rpm", r.hard.rpm},
          {"soft_rpm", r.soft.rpm},
          {"by", physics::limits::name_of(r.by)},
          {"mean_piston_speed_m_s", r.piston_speed.si},
          {"bounds", bounds(r.bounds)},
          {"stated_rpm", r.stated ? Json(r.stated->rpm) : Json(nullptr)},
          {"stated_less_safe", r.stated_less_safe()}};
}

Json knock(const advice::KnockRoom& k) {
  return {{"speed_rpm", k.speed.rpm},
          {"mbt_deg", k.mbt_deg},
          {"limit_deg", k.limit_deg},
          {"limit_half_width_deg", k.limit_half_width_deg},
          {"work_lost", k.torque_lost},
          {"compression", k.compression},
          {"octane", k.octane},
          {"octane_needed", pieces::maybe(k.octane_needed)},
          {"compression_free", pieces::maybe(k.compression_free)}};
}

Json limits(const SaidLimits& l) {
  const auto& m = l.map_sensor;
  const auto& e = l.electric;
  return {{"rev", rev(l.rev)},
          {"map_sensor",
           {{"expected_high_pa", m.expected_high.from_zero.si},
            {"high_enough", m.high_enough},
            {"low_enough", m.low_enough},
            {"needs_high_pa", m.needs_high.from_zero.si}}},
          {"electric",
           {{"full_a", e.full.si},
            {"idle_a", e.idle.si},
            {"alternator_needed_a", e.rated_needed.si},
            {"battery_needed_a", e.battery_needed.si}}},
          {"knock", pieces::maybe(l.knock, knock)},
          {"words", l.words},
          {"warnings", l.warnings}};
}

Json measured(const SizeReply& r) {
  Json values = Json::array();
  for (const MeasuredValue& m : r.measured) values.push_back({{"key", m.key}, {"value", m.value}});
  const auto pull = [](const PullUsed& p) -> Json {
    return {{"recording", p.recording},
            {"name", p.name},
            {"from_rpm", p.from.rpm},
            {"to_rpm", p.to.rpm},
            {"samples", p.samples}};
  };
  return {{"values", values},
          {"delivery", r.answer.measured_delivery},
          {"pump_volts", r.answer.measured_volts},
          {"pull", pieces::maybe(r.pull, pull)}};
}

}  // namespace

std::string json(const SizeReply& r) {
  const SupplyAnswer& a = r.answer;
  return pieces::done(
      {{"sentence", r.sentence},
       {"also", r.also},
       {"not_known", r.not_known},
       {"units", r.units == UnitSystem::us ? "us" : "metric"},
       {"members", r.members},
       {"systems", r.systems},
       {"drawn_now", r.drawn_now},
       {"fuel", r.fuel},
       {"lambda", a.middle.lambda},
       {"stoichiometric_afr", a.middle.stoichiometric},
       {"boost_pa", r.boost ? Json(r.boost->si) : Json(nullptr)},
       {"cooler", r.cooler},
       {"margin_wanted", r.margin},
       {"pump_known", r.pump_known},
       {"short_chance", a.short_chance},
       {"short_chance_after_plan", a.short_chance_after},
       {"first", pieces::maybe(a.first, first)},
       {"first_shares", shares(a.first_shares)},
       {"runs_out_rpm", interval(a.runs_out_rpm)},
       {"margin", a.margin},
       {"margin_spread", interval(a.margin_spread)},
       {"margin_speed_rpm", a.margin_at.rpm},
       {"tightest", name_of(a.tightest)},
       {"sides", sides(a)},
       {"curve", curve(a)},
       {"idle", idle(a.idle, a.middle.injectors)},
       {"vapour", vapour(a.vapour, a.middle)},
       {"lift", a.lift.fitted ? Json{{"margin", a.lift.margin}, {"lasts_s", a.lift.lasts.si}}
                              : Json(nullptr)},
       {"plan", cures(r.plan)},
       {"plan_enough", a.plan.enough},
       {"cures", cures(r.cures)},
       {"measure_first", worth(r.measure_first)},
       {"measured", measured(r)},
       {"typical", typical(r.typical)},
       {"limits", limits(r.limits)},
       {"cautions", r.cautions}});
}

}  // namespace fuelwright::service
