// The answer put together: draws, margins over speed, blame, cures, worth.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "physics/ensemble/sample.h"
#include "physics/ensemble/uncertain.h"
#include "physics/supply/internal/series.h"
#include "physics/supply/supply.h"

namespace fuelwright::physics::supply {
namespace {

struct Case {  // one system that could be this one, and the engine that it must feed
  System system;
  std::vector<Need> needs;
  std::vector<Margins> margins;
};

std::vector<double> row_of(const Eigen::MatrixXd& m, Eigen::Index r) {
  std::vector<double> out(static_cast<std::size_t>(m.cols()));
  for (Eigen::Index k = 0; k < m.cols(); ++k) out[static_cast<std::size_t>(k)] = m(r, k);
  return out;
}

// Lambda under boost is richer, whatever the sheet wishes without it.
void enrich(Supplied* from) {
  System& s = from->system;
  const double was = s.lambda;
  s.lambda = std::min(was, kBoostedLambda);
  if (s.lambda == was) return;
  auto& all = from->unknowns;
  all.erase(std::remove_if(all.begin(), all.end(),
                           [](const Unknown& u) { return u.id == "fuel.lambda"; }),
            all.end());
  all.push_back({"fuel.lambda", "mixture under boost",
                 [](System& x, double z) { x.lambda += 0.02 / k95 * z; }});
}

class Sizing {
 public:
  Sizing(Supplied from, internal::Series full, const SupplySettings& settings)
      : from_(std::move(from)), full_(std::move(full)), settings_(settings) {}

  Status condition(const internal::Series& recorded) {
    if (!settings_.trace) return Done{};
    FW_TRY(bins_, binned(*settings_.trace));
    recorded_ = recorded;
    return Done{};
  }

  void draw() {
    const auto count = static_cast<Eigen::Index>(settings_.samples);
    const auto z = normal_sample(settings_.samples, static_cast<int>(from_.unknowns.size()) + 1,
                                 settings_.seed);
    const auto u = uniform_sample(settings_.samples, 3, settings_.seed + 1);
    middle_ = make(from_.system, internal::kMiddle, std::nullopt);
    for (Eigen::Index i = 0; i < count; ++i) {
      const auto engine = static_cast<std::size_t>(i) % full_.engines();
      cases_.push_back(make(drawn(from_, row_of(z, i)), engine, trace_draw(row_of(u, i))));
    }
  }

  const Case& middle() const { return middle_; }
  const std::vector<Case>& cases() const { return cases_; }
  const Supplied& from() const { return from_; }

 private:
  TraceDraw trace_draw(const std::vector<double>& u) const {
    constexpr double kSensor = 0.01;  // one standard deviation, of the rail
    return {u[0], u[1], kSensor * inverse_normal(u[2]) * from_.system.regulator.setting};
  }

  Case make(System s, std::size_t engine, const std::optional<TraceDraw>& draw) const {
    if (!bins_.empty()) {
      // The strength that this system drew is drawn anew: its prior is the rating's, or the can's.
      const double middle = from_.delivery ? s.pump.strength : from_.system.pump.strength;
      fit_to(&s, bins_, recorded_.needs(s, engine), {std::log(middle), from_.strength_sd}, draw);
    }
    Case out{std::move(s), {}, {}};
    out.needs = full_.needs(out.system, engine);
    for (const Need& need : out.needs) out.margins.push_back(margins_at(out.system, need));
    return out;
  }

  Supplied from_;
  internal::Series full_, recorded_;
  const SupplySettings& settings_;
  std::vector<RailBin> bins_;
  Case middle_;
  std::vector<Case> cases_;
};

struct First {
  Side side{};
  double at = 0;
  std::size_t index = 0;
};
// The side that falls below 0 at the lowest speed.
std::optional<First> first_of(const Case& c) {
  std::optional<First> out;
  for (const Side side : kSides) {
    const auto at = runs_out(c.needs, c.margins, side);
    if (!at || (out && at->rpm >= out->at)) continue;
    out = First{side, at->rpm, 0};
  }
  if (!out) return out;
  // Blame is laid where it is short, at its worst.
  double worst = 0;
  for (std::size_t i = 0; i < c.needs.size(); ++i) {
    if (c.margins[i][out->side] >= worst) continue;
    worst = c.margins[i][out->side];
    out->index = i;
  }
  return out;
}

SpeedRow row_at(const Sizing& z, const internal::Series& series, std::size_t i, bool boosted) {
  SpeedRow row;
  const Case& m = z.middle();
  row.need = m.needs[i];
  row.middle = m.margins[i];
  row.point = balance(m.system, m.needs[i]);
  std::vector<double> fuel, pump, injectors, margin;
  double lacking = 0;
  for (const Case& c : z.cases()) {
    const double need = c.needs[i].fuel.si;
    fuel.push_back(need);
    pump.push_back(need * (1 + c.margins[i][Side::pump]));
    injectors.push_back(need * (1 + c.margins[i][Side::injectors]));
    margin.push_back(c.margins[i].least());
    lacking += c.margins[i].least() < 0 ? 1 : 0;
  }
  row.fuel_kg_s = interval_of(fuel);
  row.pump_kg_s = interval_of(pump);
  row.injectors_kg_s = interval_of(injectors);
  row.margin = interval_of(margin);
  row.short_share = lacking / static_cast<double>(z.cases().size());
  row.power_w = interval_of(series.power_at(i));
  row.rule = rule_of_thumb(Power{row.power_w.middle}, m.system.stoichiometric, boosted);
  return row;
}

void fill_first(const Sizing& z, const internal::Series& series, SupplyAnswer* out) {
  if (const auto f = first_of(z.middle())) {
    const Case& m = z.middle();
    out->first = Shortage{blame(m.system, m.needs[f->index], f->side),
                          f->side,
                          rpm(f->at),
                          series.middle_power(rpm(f->at)),
                          m.margins[f->index][f->side],
                          m.needs[f->index].speed};
  }
  std::map<Weak, double> blamed;
  std::vector<double> speeds;
  constexpr double kNever = 1e9;
  double lacking = 0;
  for (const Case& c : z.cases()) {
    const auto f = first_of(c);
    speeds.push_back(f ? f->at : kNever);
    if (!f) continue;
    lacking += 1;
    blamed[blame(c.system, c.needs[f->index], f->side)] += 1;
  }
  out->short_chance = lacking / static_cast<double>(z.cases().size());
  for (const auto& [part, count] : blamed) out->first_shares.push_back({part, count / lacking});
  std::stable_sort(out->first_shares.begin(), out->first_shares.end(),
                   [](const Share& a, const Share& b) { return a.share > b.share; });
  const Interval all = interval_of(speeds);
  const auto kept = [&](double v) { return v > kNever / 1e3 ? 0.0 : v; };
  out->runs_out_rpm = {kept(all.low), kept(all.middle), kept(all.high)};
}

// Least over the speeds, of every system drawn; where the middle one is tightest.
Decisive fill_tightest(const Sizing& z, const SupplySettings& settings, SupplyAnswer* out) {
  const Case& m = z.middle();
  const Tightest t = tightest_of(m.system, m.needs);
  const Side side = t.margins.tightest();
  const std::size_t i = t.at[static_cast<std::size_t>(side)];
  out->tightest_side = side;
  out->margin = t.margins.least();
  out->margin_at = m.needs[i].speed;
  constexpr double kAnything = 1e6;  // blame whatever the margin is
  out->tightest = blame(m.system, m.needs[i], side, std::max(settings.margin, 0.0));
  if (out->tightest == Weak::none) out->tightest = blame(m.system, m.needs[i], side, kAnything);
  std::vector<double> least, fuel;
  for (const Case& c : z.cases()) {
    double one = kAnything;
    for (const Margins& margins : c.margins) one = std::min(one, margins.least());
    least.push_back(one);
    fuel.push_back(c.needs[i].fuel.si * c.system.stoichiometric * c.system.lambda);
  }
  out->margin_spread = interval_of(least);
  const Interval air = interval_of(fuel);
  return {m.needs[i], side, t.margins.least(), (air.high - air.low) / (2 * air.middle)};
}

void fill_sides(const Sizing& z, SupplyAnswer* out) {
  const Case& m = z.middle();
  const Tightest t = tightest_of(m.system, m.needs);
  for (const Side side : kSides) {
    const auto k = static_cast<std::size_t>(side);
    SideAnswer& a = out->sides[k];
    a.there = side != Side::lift || m.system.lift.flow.si > 0;
    if (!a.there) continue;
    a.margin = t.margins[side];
    a.margin_at = m.needs[t.at[k]].speed;
    a.runs_out = runs_out(m.needs, m.margins, side);
    std::vector<double> least;
    double lacking = 0;
    for (const Case& c : z.cases()) {
      double one = c.margins.front()[side];
      for (const Margins& margins : c.margins) one = std::min(one, margins[side]);
      least.push_back(one);
      lacking += one < 0 ? 1 : 0;
    }
    a.spread = interval_of(least);
    a.short_chance = lacking / static_cast<double>(z.cases().size());
  }
}

void fill_cures(const Sizing& z, const SupplySettings& settings, SupplyAnswer* out) {
  const Case& m = z.middle();
  out->cures = cures(m.system, m.needs, out->tightest_side, settings.margin);
  out->plan = cure_plan(m.system, m.needs, settings.margin);
  double lacking = 0;
  for (const Case& c : z.cases()) {
    System s = c.system;
    for (const Cure& step : out->plan.steps) apply(&s, step);
    lacking += tightest_of(s, c.needs).margins.least() < 0 ? 1 : 0;
  }
  out->short_chance_after = lacking / static_cast<double>(z.cases().size());
}

void fill_idle(const Sizing& z, const IdleDemand& idle, SupplyAnswer* out) {
  if (idle.air.empty()) return;
  IdleAnswer& a = out->idle;
  a.looked_at = true;
  const auto need = [&](const System& s, MassFlow air) {
    return Need{idle.speed, idle.manifold, fuel_for(air, idle.lambda, s.stoichiometric)};
  };
  std::vector<double> effective, total, duty;
  double large = 0;
  for (std::size_t i = 0; i < z.cases().size(); ++i) {
    const System& s = z.cases()[i].system;
    const Need n = need(s, idle.air[i % idle.air.size()]);
    const Pulse p =
        pulse_for(s.injectors, s.arrangement, n.speed, n.fuel, across_nozzle(s, n.manifold, n.fuel),
                  s.rail_density(), s.wiring.source);
    effective.push_back(p.effective.si);
    total.push_back(p.total.si);
    duty.push_back(p.duty);
    large += p.effective < s.injectors.least_pulse ? 1 : 0;
  }
  a.effective_s = interval_of(effective);
  a.total_s = interval_of(total);
  a.duty = interval_of(duty);
  a.too_large = large / static_cast<double>(z.cases().size());
  const System& m = z.middle().system;
  std::vector<double> air;
  for (const MassFlow one : idle.air) air.push_back(one.si);
  a.point = balance(m, need(m, MassFlow{interval_of(air).middle}));
  a.largest_flow = a.point.pulse.effective / m.injectors.least_pulse;
  a.squirts = m.arrangement.squirts;
  a.rail_above = a.point.rail.above_ambient - set_pressure(m, idle.manifold).above_ambient;
}

void fill_lift(const Case& m, SupplyAnswer* out) {
  const System& s = m.system;
  if (s.lift.flow.si <= 0) return;
  double most = 0;
  for (const Need& n : m.needs) most = std::max(most, n.fuel.si / s.tank_density().si);
  out->lift.fitted = true;
  out->lift.margin = most > 0 ? s.lift.flow.si / most - 1 : 0;
  if (most > s.lift.flow.si) out->lift.lasts = Duration{s.lift.surge.si / (most - s.lift.flow.si)};
}

bool measured(car::Source s) { return s == car::Source::measured || s == car::Source::stated; }

}  // namespace

Result<SupplyAnswer> size_supply(const car::Sheet& sheet, const Demand& demand,
                                 const SupplySettings& settings) {
  FW_CHECK(check(demand));
  if (settings.samples < 16 || settings.samples > 4096 ||
      !(settings.margin >= 0 && settings.margin <= 1)) {
    return Error{ErrorCode::out_of_range, "size",
                 fmt::format("{} samples and a margin of {}; expected 16 to 4096, and 0 to 1",
                             settings.samples, settings.margin)};
  }
  FW_TRY(Supplied from, supply_of(sheet));
  const EngineSpeed top = sheet.wishes.rev_limit.value;
  FW_TRY(const internal::Series plain, internal::series_of(demand, top));
  internal::Series full = plain;
  bool boosted_now = demand.boosted;
  if (settings.boost) {
    FW_TRY(const Demand more, boosted(demand, *settings.boost, settings.seed + 2));
    FW_TRY(full, internal::series_of(more, top));
    boosted_now = more.boosted;
  }
  if (boosted_now) enrich(&from);
  Sizing sizing(std::move(from), full, settings);
  FW_CHECK(sizing.condition(plain));
  sizing.draw();
  SupplyAnswer out;
  for (std::size_t i = 0; i < sizing.middle().needs.size(); ++i)
    out.curve.push_back(row_at(sizing, full, i, boosted_now));
  fill_first(sizing, full, &out);
  const Decisive decisive = fill_tightest(sizing, settings, &out);
  fill_sides(sizing, &out);
  fill_cures(sizing, settings, &out);
  fill_idle(sizing, demand.idle, &out);
  fill_lift(sizing.middle(), &out);
  const OperatingPoint point = balance(sizing.middle().system, decisive.need);
  out.vapour = vapour_margin(sizing.middle().system, point.pumped, point.rail);
  out.worth = worth_measuring(sizing.from(), decisive);
  out.middle = sizing.middle().system;
  out.measured_delivery = sizing.from().delivery.has_value();
  out.measured_volts =
      measured(sheet.injection.pump_wiring_drop.source) || measured(sheet.supply.pump_volts.source);
  out.measured_trace = settings.trace.has_value();
  return out;
}

}  // namespace fuelwright::physics::supply
