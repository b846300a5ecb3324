#include "service/estimate_witnesses.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "service/checking.h"

namespace fuelwright::service {
namespace {

using advice::Driving;
using advice::FuelFrom;
using advice::Observer;
using advice::Way;
using signals::Quantity;

UsedRecording used(const Loaded& l) {
  UsedRecording u;
  u.id = l.row.id.value;
  u.name = l.row.name;
  u.driven_with = l.how.driven_with;
  u.timed = l.recording.row_step.has_value() && l.recording.pace != signals::Pace::unordered;
  return u;
}

std::string blanked_note(const advice::SetAside& s, bool timed) {
  return fmt::format("not believed in {:.1f} {}: {}", s.seconds, timed ? "s" : "rows", s.reason);
}

// One recording under consideration, with what was said of it.
struct Candidate {
  const Ground& ground;
  const Task& task;
  const Loaded& loaded;
  const EstimateRequest& request;
  std::optional<car::Surface> unit;   // of the task's kind
  bool relative_known = false;        // whether there is a table to be relative to
  const signals::Recording& trusted;  // without the values that no sensor can answer for

  const signals::Recording& recording() const { return trusted; }
  bool by_throttle() const { return task.start.grid.y.kind() == car::AxisKind::throttle; }
};

Candidate candidate_of(const Ground& g, const Task& task, const Loaded& l,
                       const EstimateRequest& request, const signals::Recording& trusted) {
  Candidate c{g, task, l, request, in_the_unit(g, l, task.what), false, trusted};
  c.relative_known = task.what == car::TableWhat::correction || c.unit.has_value();
  return c;
}

// No table to be relative to: only ways that give VE itself can speak.
advice::ObserveOptions options_of(const Candidate& c) {
  advice::ObserveOptions options;
  options.way = c.request.way;
  options.open_loop = c.request.open_loop;
  if (options.way || c.relative_known) return options;
  for (const Way way : {Way::pulse_width, Way::metered_air}) {
    options.way = way;
    if (Observer::make(c.recording(), c.ground.sheet, c.task.start, options)) break;
  }
  return options;
}

std::string percent(double sd) { return fmt::format("\xC2\xB1{:.0f} %", 100 * 1.96 * sd); }

void note_level(Way way, UsedRecording& u) {
  if (way == Way::pulse_width) {
    u.notes.push_back(
        "the unit's own charge-temperature law is not known: " + percent(advice::level_sd(way)) +
        " of level on every node; a recording of mixture target and correction settles it");
  }
  if (way == Way::metered_air) {
    u.notes.push_back("VE as metered: the air meter's own level (about " +
                      percent(advice::level_sd(way)) + ") comes on top");
  }
}

// What a unit that learns could hide, where the pulse width does not tell.
void note_hidden(const Candidate& c, bool pulse_used, UsedRecording& u) {
  if (pulse_used || !c.unit || c.loaded.how.learned || !c.recording().find(Quantity::lambda))
    return;
  const char* why = c.recording().find(Quantity::pulse_width)
                        ? "the pulse width cannot be used here"
                        : "no pulse width recorded";
  u.notes.push_back(
      fmt::format("{}, the weaker way: corrections that the unit had learned before this drive "
                  "cannot be seen; if it keeps any, give them with add --learned, or clear them "
                  "and drive again",
                  why));
}

// ---- dynamic
// -----------------------------------------------------------------------------------

const char* how_of(FuelFrom from) {
  switch (from) {
    case FuelFrom::pulse_width_and_target:
      return "every moment, fuel by pulse width against the unit's own table";
    case FuelFrom::target:
      return "every moment, fuel rebuilt from table, target and correction";
    case FuelFrom::pulse_width:
      return "every moment, air from pulse width and mixture";
  }
  broken_contract("a source of fuel", __FILE__, __LINE__);
}

// A pulse width says nothing where the unit's own VE is not known, or stands over throttle.
signals::Recording without_pulse_width(signals::Recording r) {
  std::erase_if(r.channels,
                [](const signals::Channel& ch) { return ch.what == Quantity::pulse_width; });
  return r;
}

Result<Driving> driving_of(const Candidate& c) {
  const advice::ObserveOptions options = options_of(c);
  const car::Surface& driven = c.unit ? *c.unit : c.task.start;
  const bool no_pulse = c.by_throttle() || c.task.what == car::TableWhat::correction;
  if (!no_pulse) {
    return Driving::make(c.recording(), c.ground.sheet, c.task.start, driven, options);
  }
  return Driving::make(without_pulse_width(c.recording()), c.ground.sheet, c.task.start, driven,
                       options);
}

// Time that teaches, and why the rest does not.
void count_time(const Driving& d, const advice::ObserveOptions& o, UsedRecording& u) {
  std::map<std::string, long> rows;
  long good = 0;
  for (std::size_t i = 0; i < d.rows(); ++i) {
    if (d.coolant_k[i] < o.warm.from_zero.si) {
      ++rows["engine not warm"];
    } else if (d.fuel_kg_s[i] <= 0 || d.since_cut_s[i] < 2) {
      ++rows["fuel cut, and just after it"];
    } else if (std::isnan(d.reading_ln[i])) {
      ++rows["free air at the sensor, or a reading not to be believed"];
    } else if (!d.usable[i]) {
      ++rows["engine starting, overrun, or fuel not known"];
    } else {
      ++good;
    }
  }
  u.seconds_used = static_cast<double>(good) * d.step_s;
  u.seconds_total = static_cast<double>(d.rows()) * d.step_s;
  for (const auto& [reason, n] : rows) {
    u.set_aside.push_back({reason, n, static_cast<double>(n) * d.step_s});
  }
}

// ---- believing it
// ------------------------------------------------------------------------------

// What could be wrong with it; the most probable reason to leave it out, if one is certain enough.
std::optional<std::string> doubt(const Candidate& c, UsedRecording& u) {
  const bool ve = c.task.what == car::TableWhat::ve;
  const advice::ObserveOptions options = options_of(c);
  const auto observer = Observer::make(c.recording(), c.ground.sheet, c.task.start, options);
  if (!observer) return std::nullopt;
  const car::Surface level = car::Surface::flat(c.task.start.grid, kFlatVe);
  const advice::Prior wide = advice::unknown_engine_prior();
  u.doubts = advice::doubts::doubts_about({.recording = c.recording(),
                                           .sheet = c.ground.sheet,
                                           .driven = ve && c.unit ? &*c.unit : nullptr,
                                           .believed = ve ? c.task.start : level,
                                           .prior = ve ? c.task.prior : wide,
                                           .open_loop = c.request.open_loop,
                                           .absolute = observer->way() == Way::pulse_width});
  for (const auto& d : u.doubts) {
    if (d.refuse()) return d.says;
  }
  return std::nullopt;
}

// ---- one after the other
// -----------------------------------------------------------------------

struct Numbers {
  int run = 0;
  int stretch = 0;
};

Speaker speaker_of(const Candidate& c, Observer observer, std::size_t listed, Numbers& next) {
  Speaker s{listed, std::move(observer), std::nullopt, 0, next.run, next.stretch};
  if (advice::is_relative(s.observer.way())) s.driven = c.unit;
  next.run += s.observer.runs();
  next.stretch += s.observer.stretches();
  return s;
}

// The drive as static samples, in the way that has the drive's own meaning.
std::optional<Speaker> beside_of(const Candidate& c, const Driving& d, std::size_t listed,
                                 Numbers& next) {
  advice::ObserveOptions options = options_of(c);
  options.way = d.fuel_from == FuelFrom::pulse_width ? Way::pulse_width : Way::correction;
  auto observer = Observer::make(c.recording(), c.ground.sheet, c.task.start, options);
  if (!observer) return std::nullopt;
  Speaker s = speaker_of(c, std::move(*observer), listed, next);
  s.instrument = d.fuel_from == FuelFrom::pulse_width ? 1 : 0;
  return s;
}

// Ways that compare with the unit's own table are the reference. Pulse width and an air meter have
// levels of their own; an air meter alone is the reference, and the answer is VE as metered.
void give_instruments(Witnesses& w) {
  const bool only_air = w.drives.empty() && std::ranges::all_of(w.speakers, [](const Speaker& s) {
                          return s.observer.way() == Way::metered_air;
                        });
  for (Speaker& s : w.speakers) {
    const Way way = s.observer.way();
    s.instrument = way == Way::pulse_width ? 1 : way == Way::metered_air && !only_air ? 2 : 0;
  }
}

}  // namespace

Result<Witnesses> witnesses_of(const Ground& g, const Task& task, const EstimateRequest& request,
                               std::vector<UsedRecording>& list) {
  Witnesses out;
  Numbers next, next_beside;
  std::optional<Error> first_error;
  const auto leave_out = [&](UsedRecording u, const Error& e) {
    u.left_out = e.message;
    if (!first_error) first_error = e;
    list.push_back(std::move(u));
  };
  for (const Loaded& l : g.recordings) {
    UsedRecording u = used(l);
    const Trusted b = trusted(g, l);
    out.trusted.push_back(trusted_rows(l.recording, b.masks));
    const Candidate c = candidate_of(g, task, l, request, out.trusted.back());
    auto reason = doubt(c, u);
    if (b.refused) reason = b.refused;
    for (const advice::SetAside& s : b.blanked) u.notes.push_back(blanked_note(s, u.timed));
    if (reason) {
      leave_out(std::move(u), {ErrorCode::conflict, l.row.name, *reason});
      continue;
    }
    const advice::ObserveOptions options = options_of(c);
    auto driving = driving_of(c);
    if (driving) {
      u.dynamic = true;
      u.how = how_of(driving->fuel_from);
      u.notes.insert(u.notes.end(), driving->notes.begin(), driving->notes.end());
      count_time(*driving, options, u);
      if (driving->fuel_from == FuelFrom::pulse_width) note_level(Way::pulse_width, u);
      note_hidden(c, driving->fuel_from != FuelFrom::target, u);
      if (auto s = beside_of(c, *driving, list.size(), next_beside)) {
        out.beside.push_back(std::move(*s));
      }
      out.listed.push_back(list.size());
      out.drives.push_back(std::move(*driving));
      list.push_back(std::move(u));
      continue;
    }
    if (driving.error().code == ErrorCode::conflict) {
      leave_out(std::move(u), driving.error());
      continue;
    }
    auto observer = Observer::make(c.recording(), g.sheet, task.start, options);
    if (!observer) {
      leave_out(std::move(u), observer.error());
      continue;
    }
    u.how = observer->how();
    u.seconds_used = observer->seconds_used();
    u.seconds_total = observer->seconds_total();
    u.set_aside = observer->set_aside();
    const auto& notes = observer->notes();
    u.notes.insert(u.notes.end(), notes.begin(), notes.end());
    u.notes.push_back("steady driving only: " + driving.error().message);
    note_level(observer->way(), u);
    if (observer->way() == Way::correction) note_hidden(c, false, u);
    out.speakers.push_back(speaker_of(c, std::move(*observer), list.size(), next));
    list.push_back(std::move(u));
  }
  if (out.speakers.empty() && out.drives.empty() && first_error) return *first_error;
  give_instruments(out);
  return out;
}

advice::SampleSource join(const std::deque<Speaker>& speakers, const Task& task) {
  return [&](const std::function<void(const advice::Sample&)>& f) {
    for (const Speaker& s : speakers) {
      s.observer.each(s.instrument, s.first_run, s.first_stretch, [&](const advice::Sample& in) {
        if (!s.driven) return f(in);
        advice::Sample moved = in;
        moved.y += std::log(s.driven->at(in.at) / task.start.at(in.at));  // (estimate.7)
        f(moved);
      });
    }
  };
}

}  // namespace fuelwright::service
