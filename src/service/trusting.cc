// Sensor checks and guard, as far as an estimate uses them.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/guard/guarded_nodes.h"
#include "service/checking.h"

namespace fuelwright::service {

using signals::Quantity;

namespace {

constexpr const char* kRulesSetting = "guard rules";
constexpr double kPassed_s = 3;  // at a node without a firing: what was wrong there is put right

// Only what VE is looked up by and read with can blind an estimate.
std::optional<std::string> refusal_of(const advice::SensorReport& report) {
  for (const Quantity q : {Quantity::time, Quantity::rpm, Quantity::map}) {
    if (auto why = report.masks_of_sensors.refused(q)) return why;
  }
  if (report.mixture_sensors == 0) return std::nullopt;
  auto one = report.masks_of_sensors.refused(Quantity::lambda, 1);
  const bool other_left = report.mixture_sensors > 1 &&
                          !report.masks_of_sensors.refused(Quantity::lambda, 2).has_value();
  return one && !other_left ? one : std::nullopt;
}

AbsolutePressure ambient_of(const Ground& g, const Loaded& l) {
  return l.how.answers.ambient.value_or(g.sheet.place.pressure.value);
}

void blank(signals::Channel& c, const std::vector<advice::MaskedSpan>& spans) {
  for (const advice::MaskedSpan& s : spans) {
    std::fill(c.si.begin() + static_cast<std::ptrdiff_t>(s.first),
              c.si.begin() + static_cast<std::ptrdiff_t>(s.last), NAN);
  }
}

// What fired in one recording and has not been driven away since.
struct Standing {
  std::int64_t recording = 0;
  int revision = 0;  // in the unit
  advice::GuardedPlaces places;
};

// A later drive with a later revision that passed there without a firing.
void release(Standing& s, const Ground& g, const Loaded& l, const car::Grid& grid) {
  const std::vector<double> passed =
      advice::seconds_watched(s.places.rule, l.recording, g.guard, grid, ambient_of(g, l));
  for (std::size_t i = 0; i < passed.size(); ++i) {
    if (passed[i] >= kPassed_s) s.places.nodes[i] = false;
  }
}

std::string in_words(const Standing& s, UnitSystem units) {
  const advice::GuardedPlaces& p = s.places;
  std::string out =
      fmt::format("{} in recording {} at {:.0f} s: {:.0f} to {:.0f} rpm",
                  advice::words_of(p.rule).label, s.recording, p.first.si, p.slowest.rpm,
                  p.fastest.rpm);
  const double high = p.highest.from_zero.si;
  if (!(high > 0)) return out;
  const double unit = units == UnitSystem::us ? inHg.factor : kPa.factor;
  return out + fmt::format(", {:.1f} to {:.1f} {}", p.lowest.from_zero.si / unit, high / unit,
                           units == UnitSystem::us ? "inHg" : "kPa");
}

}  // namespace

Result<advice::Rules> guard_rules(const Job& job, const car::Sheet& sheet) {
  FW_TRY(const auto kept, job.setting(kRulesSetting));
  const advice::Rules safe = advice::safe_rules(sheet);
  if (!kept) return safe;
  auto rules = advice::read_rules_json(*kept, safe);
  if (rules) return std::move(*rules);
  return Error{ErrorCode::damaged, job.path() + ": guard rules", rules.error().line()};
}

Result<std::string> guard_rules_json(const std::string& path) {
  FW_TRY(const Job job, Job::open(path, Access::read));
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, path + ": sheet"));
  FW_TRY(const advice::Rules rules, guard_rules(job, sheet));
  return advice::write_rules_json(rules);
}

Status keep_guard_rules(const GuardRulesRequest& request) {
  FW_TRY(Job job, Job::open(request.job, Access::write));
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, request.job + ": sheet"));
  FW_TRY(const advice::Rules before, guard_rules(job, sheet));
  auto rules = advice::read_rules_json(request.json, before);
  if (!rules) {
    Error e = rules.error();
    e.where = request.name + (e.where.empty() ? "" : ": " + e.where);
    return e;
  }
  return job.set_setting(kRulesSetting, advice::write_rules_json(*rules),
                         {request.who, request.when, "rules of the guard, " + request.name});
}

advice::SensorReport check_recording(const Ground& g, const Loaded& l,
                                     const advice::WeatherReport& weather) {
  advice::WeatherReport known = weather;
  if (!known.station && !known.sea_level && l.how.answers.ambient &&
      l.how.answers.ambient->from_zero.si != g.sheet.place.pressure.value.from_zero.si) {
    known.station = l.how.answers.ambient;
  }
  const std::optional<car::Surface> unit = in_the_unit(g, l, car::TableWhat::ve);
  return advice::check_running(
      l.recording,
      {.sheet = g.sheet, .weather = known, .table = unit ? &*unit : nullptr, .units = g.units});
}

Trusted trusted(const Ground& g, const Loaded& l) {
  Trusted out;
  advice::SensorReport report = check_recording(g, l);
  out.refused = refusal_of(report);
  out.masks = std::move(report.masks_of_sensors);
  for (const advice::MaskedShare& s :
       out.masks.shares(l.recording.row_step.value_or(1.0 * second))) {
    out.blanked.push_back({s.why, s.rows, s.seconds.si});
  }
  return out;
}

signals::Recording trusted_rows(const signals::Recording& recording, const advice::Masks& masks) {
  signals::Recording out = recording;
  const std::vector<advice::MaskedSpan> whole = masks.spans(Quantity::time);
  for (signals::Channel& c : out.channels) {
    if (c.what == Quantity::time || c.si.size() != masks.rows()) continue;
    // Filters run over temperatures: what is doubtful there costs the mixture beside it instead.
    const bool warmth = c.what == Quantity::coolant || c.what == Quantity::intake_air;
    if (!warmth) blank(c, masks.spans(c.what, c.what == Quantity::lambda ? c.bank : 1));
    if (c.what == Quantity::lambda) {
      blank(c, masks.spans(Quantity::coolant));
      blank(c, masks.spans(Quantity::intake_air));
    }
    if (c.what == Quantity::rpm || c.what == Quantity::map || c.what == Quantity::lambda) {
      blank(c, whole);
    }
  }
  return out;
}

Guarded guarded_nodes(const Ground& g, const car::Grid& grid) {
  std::vector<Standing> standing;
  for (const Loaded& l : g.recordings) {
    const int revision = l.how.driven_with.value_or(0);
    for (Standing& s : standing) {
      if (revision > s.revision) release(s, g, l, grid);
    }
    const advice::GuardReport report = advice::guard_recording(l.recording, g.guard, g.sheet);
    for (auto& places :
         advice::guarded_places(report, l.recording, g.guard, grid, ambient_of(g, l))) {
      standing.push_back({l.row.id.value, revision, std::move(places)});
    }
  }
  Guarded out{std::vector<bool>(grid.size(), false), {}};
  for (const Standing& s : standing) {
    if (std::ranges::find(s.places.nodes, true) == s.places.nodes.end()) continue;
    for (std::size_t i = 0; i < out.nodes.size(); ++i) {
      if (s.places.nodes[i]) out.nodes[i] = true;
    }
    out.because.push_back(in_words(s, g.units));
  }
  return out;
}

}  // namespace fuelwright::service
