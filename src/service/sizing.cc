// Can the fuel system feed this engine, and where must it stop?
#include <fmt/format.h>

#include <algorithm>

#include "physics/ensemble/ensemble.h"
#include "service/ensembles.h"
#include "service/service.h"
#include "service/size_ground.h"
#include "service/size_words.h"

namespace fuelwright::service {
namespace {

using namespace physics::supply;

constexpr AbsolutePressure kOverrun = absolute(20.0 * kPa);  // deep, at speed (practice)

bool given(car::Source s) { return s == car::Source::measured || s == car::Source::stated; }

Status check(const SizeRequest& r) {
  constexpr double kLeast_Pa = 1e3, kMost_Pa = 300e3;
  if (r.boost && !(r.boost->si >= kLeast_Pa && r.boost->si <= kMost_Pa)) {
    return Error{
        ErrorCode::out_of_range, "--boost",
        fmt::format("{:.4g} kPa came; expected 1 to 300 kPa above ambient", r.boost->in(kPa))};
  }
  if (!r.boost && (r.cooler || r.exhaust_driven)) {
    return Error{ErrorCode::usage, r.cooler ? "--cooler" : "--exhaust-driven",
                 "says nothing without --boost"};
  }
  if (!(r.margin >= 0 && r.margin <= 1)) {
    return Error{ErrorCode::out_of_range, "--margin",
                 fmt::format("{:.4g} came; expected a share of 0 to 1", r.margin)};
  }
  if (r.members < 16 || r.members > 512) {
    return Error{ErrorCode::out_of_range, "members",
                 fmt::format("{} engines were asked for; 16 to 512 can be drawn", r.members)};
  }
  return Done{};
}

// The engines of the last prediction, else drawn now.
Result<physics::Drawn> engines_of(Job& job, const SizeRequest& request, const std::string& toml,
                                  const car::Sheet& sheet, bool* drawn_now) {
  FW_TRY(std::optional<physics::Drawn> last, last_ensemble(job));
  if (last) return std::move(*last);
  physics::DrawSettings settings;
  settings.members = request.members;
  settings.whole = true;
  settings.maps.threads = request.threads;
  settings.maps.stop = request.stop;
  settings.maps.progress = request.progress;
  const By by{request.who, request.when,
              fmt::format("{} engines that could be this one", request.members)};
  FW_TRY(OfJob drawn, ensemble_of(job, toml, sheet, settings, by));
  *drawn_now = drawn.drawn_now;
  return std::move(drawn.drawn);
}

std::vector<car::Line> typical_of(const car::Sheet& sheet, UnitSystem units) {
  std::vector<car::Line> out;
  for (car::Line& line : car::describe(sheet, units)) {
    const bool supply = line.section == "supply" || line.section == "injection";
    if (supply && line.source == car::Source::typical) out.push_back(std::move(line));
  }
  return out;
}

physics::limits::Loads loads_of(const car::Sheet& sheet, const SupplyAnswer& a) {
  const SpeedRow& top = a.curve.back();
  physics::limits::Loads out;
  out.fuel_pump = top.point.pump_current;
  out.injectors = sheet.injection.injector_count.value;
  out.duty = top.point.pulse.duty;
  out.cylinders = sheet.engine.cylinders.value;
  out.displacement = sheet.engine.displacement.value;
  out.speed = top.need.speed;
  out.idle = sheet.wishes.idle_speed.value;
  out.volts = sheet.supply.charging_voltage.value;
  return out;
}

void fill_limits(const car::Sheet& sheet, const advice::Asked& asked, const physics::Drawn& drawn,
                 SizeReply* r) {
  SaidLimits& l = r->limits;
  const Demand& d = asked.demand;
  // Breathing needs three speeds; fewer say nothing of where power falls.
  l.rev = physics::limits::rev_limit(
      sheet, d.speeds, d.speeds.size() >= 3 ? d.power : std::vector<std::vector<Power>>{});
  l.map_sensor = physics::limits::map_range(sheet, r->boost.value_or(PressureStep{0}), kOverrun);
  l.electric = physics::limits::electric_load(loads_of(sheet, r->answer));
  if (auto room = advice::knock_room(sheet, drawn.centre)) l.knock = *room;
  say_limits(sheet, r->units, &l);
  if (r->boost && l.knock) {
    l.warnings.push_back(
        "Compression and octane are compared without boost; under boost knock comes earlier: about "
        "1 deg less spark for each psi (practice), and more octane or less compression.");
  }
  const auto& first = r->answer.first;
  if (r->pump_known && first) {
    const double stop = 100 * std::floor(first->at.rpm / 100);
    l.warnings.push_back(fmt::format(
        "Until the shortage is cured: no full throttle from {:.0f} rpm on, where fuel is missing.",
        stop));
  }
}

std::vector<std::string> cautions_of(const SizeReply& r) {
  std::vector<std::string> out{
      "Fuel stands under pressure and burns: let the pressure off before a line is opened, keep "
      "ignition, hot parts and lamps away, wear eye protection, have an extinguisher at hand.",
      "Use hose, clamps and connectors made for this fuel at this pressure; fuse the pump's feed "
      "at "
      "the battery, and have the pump stop when the engine does. Local codes and licensed practice "
      "come first.",
      "Timing a delivery: engine off, outdoors, a can that is grounded and made for fuel, one "
      "person "
      "at the switch.",
      "A pull for rail pressure: closed road or dynamometer, a helper reads the screen, lift at "
      "once "
      "when the pressure falls or the mixture goes lean."};
  constexpr double kMuch = 0.2;
  if (r.answer.middle.liquid.alcohol > kMuch) {
    out.push_back(
        "Alcohol eats rubber, light metal and some pump windings that petrol leaves alone: every "
        "part from tank to injector must be made for it.");
  }
  return out;
}

bool pump_known(const car::Sheet& sheet, const SupplyAnswer& a) {
  return given(sheet.injection.pump_flow.source) || given(sheet.supply.pump_curve_flow.source) ||
         a.measured_delivery || a.measured_trace;
}

}  // namespace

Result<SizeReply> size(const SizeRequest& request) {
  FW_CHECK(check(request));
  FW_TRY(Job job, Job::open(request.job, Access::write));
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet stated, car::read_sheet(toml, request.job + ": sheet"));
  SizeReply r;
  FW_TRY(r.units, job.units());
  r.margin = request.margin;
  r.boost = request.boost;
  r.cooler = request.cooler;
  // What cannot be is refused before it is kept.
  FW_CHECK(with_measured(stated, request.measured));
  FW_TRY(r.measured, keep_measured(job, request));
  FW_TRY(const car::Sheet sheet, with_measured(stated, r.measured));
  r.fuel = sheet.fuel.name.value;
  r.scale = sheet.wishes.scale.value;
  FW_TRY(physics::Drawn drawn, engines_of(job, request, toml, stated, &r.drawn_now));
  const physics::Ensemble ensemble(std::move(drawn));
  r.members = static_cast<int>(ensemble.members());
  FW_TRY(const advice::Asked asked, advice::fuel_demand(sheet, ensemble));
  SupplySettings settings{.margin = request.margin};
  if (request.boost) {
    settings.boost = Boost{*request.boost, request.cooler, !request.exhaust_driven,
                           sheet.place.temperature.value};
  }
  FW_TRY(std::optional<Pull> pull, recorded_pull(job, sheet));
  if (pull) {
    settings.trace = std::move(pull->trace);
    r.pull = pull->used;
  }
  FW_TRY(r.answer, size_supply(sheet, asked.demand, settings));
  r.systems = settings.samples;
  r.pump_known = pump_known(sheet, r.answer);
  r.typical = typical_of(sheet, r.units);
  for (const Cure& c : r.answer.plan.steps)
    r.plan.push_back({c, words_of(c, r.answer.middle, r.units)});
  for (const Cure& c : r.answer.cures)
    r.cures.push_back({c, words_of(c, r.answer.middle, r.units)});
  for (const Worth& w : r.answer.worth) r.measure_first.push_back({w, words_of(w)});
  say(&r);
  fill_limits(sheet, asked, ensemble.drawn(), &r);
  r.cautions = cautions_of(r);
  return r;
}

}  // namespace fuelwright::service
