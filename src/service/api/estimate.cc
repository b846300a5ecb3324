// An estimate as JSON.
#include "base/contract.h"
#include "service/api/json.h"
#include "service/api/pieces.h"

namespace fuelwright::service {
namespace {

using pieces::done;
using pieces::evidence;
using pieces::Json;
using pieces::maybe;
using pieces::surface;

Json used(const UsedRecording& u) {
  Json aside = Json::array();
  for (const advice::SetAside& a : u.set_aside) {
    aside.push_back({{"reason", a.reason}, {"rows", a.rows}, {"seconds", a.seconds}});
  }
  Json doubts = Json::array();
  for (const auto& d : u.doubts) {
    doubts.push_back({{"kind", advice::doubts::name_of(d.kind)},
                      {"probability", d.probability},
                      {"ln_bayes_factor", d.ln_b},
                      {"size", d.size},
                      {"size_sd", d.size_sd},
                      {"spoils", d.spoils},
                      {"says", d.says}});
  }
  return {{"id", u.id},
          {"name", u.name},
          {"driven_with", maybe(u.driven_with)},
          {"dynamic", u.dynamic},
          {"how", u.how},
          {"left_out", u.left_out},
          {"seconds_used", u.seconds_used},
          {"seconds_total", u.seconds_total},
          {"timed", u.timed},
          {"set_aside", aside},
          {"notes", u.notes},
          {"doubts", doubts}};
}

Json figure(const Figure& f) { return {{"value", f.value}, {"half_width_95", f.half_width}}; }

Json dynamics(const DynamicsFound& d) {
  return {{"sentence", d.sentence},
          {"delay_low_flow_s", figure(d.delay_low_flow_s)},
          {"delay_high_flow_s", figure(d.delay_high_flow_s)},
          {"sensor_lag_s", figure(d.sensor_lag_s)},
          {"film_share", figure(d.film_share)},
          {"film_time_s", figure(d.film_time_s)},
          {"rows_set_aside", d.rows_set_aside},
          {"notes", d.notes}};
}

Json mixture_interval(const advice::MixtureInterval& m) {
  return {{"rich", m.rich.value}, {"middle", m.middle.value}, {"lean", m.lean.value}};
}

// What keeps a node from moving as it wants.
const char* name_of(advice::Held held) {
  switch (held) {
    case advice::Held::no:
      return "no";
    case advice::Held::not_proven:
      return "not_proven";
    case advice::Held::not_driven:
      return "not_driven";
    case advice::Held::thin:
      return "thin";
    case advice::Held::margin:
      return "margin";
    case advice::Held::most_change:
      return "most_change";
    case advice::Held::unit_range:
      return "unit_range";
    case advice::Held::not_believed:
      return "not_believed";
    case advice::Held::guarded:
      return "guarded";
  }
  broken_contract("a reason of the list", __FILE__, __LINE__);
}

// Arrays are [y][x], as the surfaces'.
Json change(const advice::ProposedTable& p) {
  Json wanted = Json::array(), made = Json::array(), held = Json::array(), chance = Json::array();
  for (const advice::NodeChange& n : p.nodes) {
    wanted.push_back(n.wanted);
    made.push_back(n.made);
    held.push_back(name_of(n.held));
    chance.push_back(maybe(n.lean_chance));
  }
  return {{"richer", p.richer},
          {"leaner", p.leaner},
          {"held_back", p.held_back},
          {"kept_rich", p.kept_rich},
          {"cut", p.cut},
          {"unsafe", p.unsafe},
          {"lean_targets", p.lean_targets},
          {"lean_limit", p.options.safe.leanest.value},
          {"lean_chance", p.options.lean_chance},
          {"wanted_ln", wanted},
          {"made_ln", made},
          {"held", held},
          {"chance_too_lean", chance}};
}

Json ladder(const advice::Outlook& o) {
  Json rungs = Json::array();
  for (const advice::Rung& r : o.ladder.rungs) {
    const char* step = r.step == advice::Step::driven  ? "driven"
                       : r.step == advice::Step::next  ? "next"
                       : r.step == advice::Step::later ? "later"
                                                       : "closed";
    rungs.push_back({{"speed_rpm", r.speed.rpm},
                     {"node", r.node},
                     {"step", step},
                     {"may_try", r.may_try},
                     {"light_load_known", r.light_load_known},
                     {"half_width_95", r.half_width},
                     {"half_width_95_then", r.half_width_then},
                     {"lift_at_lambda", r.lift_at ? Json(r.lift_at->value) : Json(nullptr)}});
  }
  return {{"load_si", o.grid.y[o.ladder.row]},
          {"rungs", rungs},
          {"next", maybe(o.ladder.next)},
          {"undriven_half_width_95", o.ladder.undriven_half_width},
          {"with_light_load", o.ladder.with_light_load}};
}

Json outlook(const advice::Outlook& o) {
  Json go = Json::array(), mixture = Json::array(), chance = Json::array(), duty = Json::array();
  for (const advice::NodeOutlook& n : o.nodes) {
    go.push_back(advice::name_of(n.go));
    mixture.push_back(maybe(n.mixture, mixture_interval));
    chance.push_back(maybe(n.chance));
    duty.push_back(n.fuel ? Json(n.fuel->duty) : Json(nullptr));
  }
  return {{"go", go},
          {"lambda", mixture},
          {"chance_too_lean", chance},
          {"duty", duty},
          {"proven_fuel_kg_s", o.proven_flow ? Json(o.proven_flow->si) : Json(nullptr)},
          {"ladder", ladder(o)}};
}

Json stopping(const advice::Stopping& s) {
  return {{"sentence", s.sentence()},
          {"verdict", advice::name_of(s.verdict)},
          {"driven_s", s.driven.si},
          {"more_s", s.more.si},
          {"half_width_95", s.half_width},
          {"half_width_95_later", s.half_width_later},
          {"half_width_95_best", s.half_width_best},
          {"half_width_95_floor", s.half_width_floor},
          {"guesses", s.guesses},
          {"guesses_later", s.guesses_later},
          {"seconds", s.seconds},
          {"floor", s.floor},
          {"later", s.later}};
}

}  // namespace

std::string json(const EstimateReply& r) {
  Json recordings = Json::array();
  for (const UsedRecording& u : r.recordings) recordings.push_back(used(u));
  return done({{"sentence", r.sentence},
               {"warnings", r.warnings},
               {"not_known", r.not_known},
               {"verdict", advice::name_of(r.verdict)},
               {"because", r.because},
               {"family", r.family},
               {"whole_table_shift", r.shift},
               {"whole_table_shift_half_width_95", r.shift_half_width},
               {"driven_half_width_95", r.driven_half_width},
               {"measured", r.measured},
               {"inferred", r.inferred},
               {"prior_only", r.prior_only},
               {"repetition", r.repetition},
               {"noise_scale", r.noise_scale},
               {"prior", r.prior},
               {"dynamics", maybe(r.dynamics, dynamics)},
               {"recordings", recordings},
               {"evidence", maybe(r.evidence, evidence)},
               {"in_force", maybe(r.in_force, surface)},
               {"proposed", maybe(r.proposed, surface)},
               {"proposal", maybe(r.proposal)},
               {"parent", r.parent},
               {"reason", r.reason},
               {"change", maybe(r.change, change)},
               {"change_words", r.change_words},
               {"outlook", maybe(r.outlook, outlook)},
               {"outlook_words", r.outlook_words},
               {"stopping", maybe(r.stopping, stopping)}});
}

}  // namespace fuelwright::service
