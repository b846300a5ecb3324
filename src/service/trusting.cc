// Sensor checks and guard, as far as an estimate uses them.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "service/checking.h"

namespace fuelwright::service {

using signals::Quantity;

namespace {

constexpr const char* kRulesSetting = "guard rules";

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

}  // namespace

Result<advice::Rules> guard_rules(const Job& job, const car::Sheet& sheet) {
  FW_TRY(const auto kept, job.setting(kRulesSetting));
  const advice::Rules safe = advice::safe_rules(sheet);
  if (!kept) return safe;
  auto rules = advice::read_rules_json(*kept, safe);
  if (rules) return std::move(*rules);
  return Error{ErrorCode::damaged, job.path() + ": guard rules", rules.error().line()};
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

std::vector<bool> guarded_nodes(const Ground& g, const car::Grid& grid) {
  std::vector<bool> out(grid.size(), false);
  for (const Loaded& l : g.recordings) {
    const advice::GuardReport report = advice::guard_recording(l.recording, g.guard, g.sheet);
    if (!report.stop()) continue;
    const auto nodes = advice::guarded_nodes(report, l.recording, grid, ambient_of(g, l));
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = out[i] || nodes[i];
  }
  return out;
}

}  // namespace fuelwright::service
