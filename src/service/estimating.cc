// From a job's recordings to evidence and a proposal.
//
// The posterior is always made afresh from the table that stood at the start (revision 0, or a flat
// one) and all recordings, so that nothing is ever counted twice. A recording that speaks relative
// to the table in the unit is referred to the start table through the revision it was driven with:
//
//   ln(true / start) = ln(true / driven) + ln(driven / start) (estimate.7)
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <deque>
#include <nlohmann/json.hpp>

#include "advice/map_estimate/proposal.h"
#include "car/build/derived.h"
#include "service/ensembles.h"
#include "service/reading_json.h"
#include "service/service.h"

namespace fuelwright::service {
namespace {

using advice::Observer;
using advice::Way;

constexpr double kFlatVe =
    0.80;  // a start without a table: level and shape are in the prior's spread
constexpr double kAirMeterLevel_sd =
    0.04;  // an air meter in an intake it was not made for (common practice, no source)

struct Loaded {
  RecordingRow row;
  HowRead how;
  signals::Recording recording;
};

struct Ground {
  car::Sheet sheet;
  std::optional<physics::Ensemble> ensemble;  // if a prediction was made of this sheet
  UnitSystem units = UnitSystem::metric;
  car::Calibration start;  // revision 0
  car::Revision in_force;
  std::map<int, car::Calibration> driven_with;
  std::deque<Loaded> recordings;
};

Result<Ground> load(Job& job, const std::string& name) {
  Ground g;
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(g.sheet, car::read_sheet(toml, name + ": sheet"));
  FW_TRY(g.units, job.units());
  FW_TRY(std::optional<physics::Drawn> drawn, last_ensemble(job));
  if (drawn) g.ensemble.emplace(std::move(*drawn));
  FW_TRY(const car::Revision first, job.revision(0));
  g.start = first.calibration;
  FW_TRY(g.in_force, job.revision_in_force());
  FW_TRY(const auto rows, job.recordings());
  for (const RecordingRow& row : rows) {
    FW_TRY(HowRead how,
           read_how(row.reading.mapping_json, fmt::format("{}: recording {}", name, row.id.value)));
    FW_TRY(const std::string bytes, job.recording_bytes(row.id));
    FW_TRY(signals::Recording recording, signals::read_recording(bytes, row.name, how.answers));
    if (how.driven_with && !g.driven_with.contains(*how.driven_with)) {
      FW_TRY(const car::Revision r, job.revision(*how.driven_with));
      g.driven_with.emplace(*how.driven_with, r.calibration);
    }
    g.recordings.push_back({row, std::move(how), std::move(recording)});
  }
  return g;
}

// What is estimated, over which axes, from which start, with which prior.
struct Task {
  car::TableWhat what = car::TableWhat::ve;
  car::Surface start;
  advice::Prior prior;
};

// Without a table in the unit, VE itself is the better answer wherever a recording can give it.
bool any_absolute(const Ground& g, const EstimateRequest& request) {
  if (request.way) return !advice::is_relative(*request.way);
  const car::Surface probe = car::Surface::flat(car::table_grid(g.sheet), kFlatVe);
  return std::any_of(g.recordings.begin(), g.recordings.end(), [&](const Loaded& l) {
    for (const Way way : {Way::pulse_width, Way::metered_air}) {
      advice::ObserveOptions options;
      options.way = way;
      if (Observer::make(l.recording, g.sheet, probe, options)) return true;
    }
    return false;
  });
}

bool was_driven_with_ve(const Ground& g, const Loaded& l) {
  return l.how.driven_with && g.driven_with.at(*l.how.driven_with).find(car::TableWhat::ve);
}
bool driven_with_ve(const Ground& g) {
  return std::any_of(g.recordings.begin(), g.recordings.end(), [&](const Loaded& l) { return was_driven_with_ve(g, l); });
}

Task task_of(const Ground& g, const EstimateRequest& request) {
  if (const car::Surface* ve = g.start.find(car::TableWhat::ve)) {
    return {car::TableWhat::ve, *ve, advice::table_as_found_prior()};
  }
  const car::Grid grid = car::table_grid(g.sheet);
  // A car that has been driven with a computed VE table can be referred to the engine's own ensemble.
  if (g.ensemble && (any_absolute(g, request) || driven_with_ve(g))) {
    if (auto b = believed(*g.ensemble, grid)) return {car::TableWhat::ve, std::move(b->ve), std::move(b->prior)};
  }
  if (any_absolute(g, request)) {
    return {car::TableWhat::ve, car::Surface::flat(grid, kFlatVe), advice::unknown_engine_prior()};
  }
  return {car::TableWhat::correction, car::Surface::flat(grid, 1.0),
          advice::table_as_found_prior()};
}

// One recording ready to speak.
struct Speaker {
  Observer observer;
  const car::Surface* driven =
      nullptr;  // relative ways: the table in the unit, if it is not the start
  int instrument = 0;
  int first_run = 0;
  int first_stretch = 0;
};

UsedRecording used(const Loaded& l) {
  UsedRecording u;
  u.id = l.row.id.value;
  u.name = l.row.name;
  u.timed = l.recording.row_step.has_value() && l.recording.pace != signals::Pace::unordered;
  return u;
}

// Ways that compare with the unit's own table are the reference. Pulse width and an air meter have
// levels of their own; an air meter alone is the reference, and the answer is VE as metered.
void give_instruments(std::deque<Speaker>& speakers) {
  const bool only_air = std::all_of(speakers.begin(), speakers.end(), [](const Speaker& s) {
    return s.observer.way() == Way::metered_air;
  });
  for (Speaker& s : speakers) {
    const Way way = s.observer.way();
    s.instrument = way == Way::pulse_width ? 1 : way == Way::metered_air && !only_air ? 2 : 0;
  }
}

// Observers for all recordings; those that cannot speak are listed with the reason.
Result<std::deque<Speaker>> speakers_of(const Ground& g, const Task& task,
                                        const EstimateRequest& request,
                                        std::vector<UsedRecording>& list) {
  std::deque<Speaker> out;
  int run = 0;
  int stretch = 0;
  std::optional<Error> first_error;
  for (const Loaded& l : g.recordings) {
    UsedRecording u = used(l);
    advice::ObserveOptions options;
    options.way = request.way;
    options.open_loop = request.open_loop;
    const bool relative_to_a_table = g.start.find(car::TableWhat::ve) || was_driven_with_ve(g, l);
    if (!options.way && task.what == car::TableWhat::ve && !relative_to_a_table) {
      // No table to be relative to: only ways that give VE itself can speak.
      for (const Way way : {Way::pulse_width, Way::metered_air}) {
        options.way = way;
        if (Observer::make(l.recording, g.sheet, task.start, options)) break;
      }
    }
    auto observer = Observer::make(l.recording, g.sheet, task.start, options);
    if (!observer) {
      u.left_out = observer.error().message;
      if (!first_error) first_error = observer.error();
      list.push_back(std::move(u));
      continue;
    }
    u.how = observer->how();
    u.seconds_used = observer->seconds_used();
    u.seconds_total = observer->seconds_total();
    u.set_aside = observer->set_aside();
    u.notes = observer->notes();
    if (observer->way() == Way::pulse_width) {
      u.notes.push_back(fmt::format(
          "the unit's own charge-temperature law is not known: \xC2\xB1{:.0f} % of level on every "
          "node; a recording of mixture target and correction settles it",
          100 * 1.96 * advice::level_sd(Way::pulse_width)));
    }
    if (observer->way() == Way::metered_air) {
      u.notes.push_back(fmt::format(
          "VE as metered: the air meter's own level (about \xC2\xB1{:.0f} %) comes on top",
          100 * 1.96 * advice::level_sd(Way::metered_air)));
    }
    list.push_back(std::move(u));
    Speaker s{std::move(*observer), nullptr, 0, run, stretch};
    if (advice::is_relative(s.observer.way()) && l.how.driven_with) {
      s.driven = g.driven_with.at(*l.how.driven_with).find(task.what);
    }
    run += s.observer.runs();
    stretch += s.observer.stretches();
    out.push_back(std::move(s));
  }
  if (out.empty() && first_error) return *first_error;
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

// Half-width that half of the driving is better than.
double driven_half_width(const advice::MapEstimate& e) {
  std::vector<std::pair<double, double>> by_width;
  for (std::size_t i = 0; i < e.evidence.sd_log.size(); ++i) {
    by_width.emplace_back(e.evidence.half_width(i), e.usage[static_cast<Eigen::Index>(i)]);
  }
  std::sort(by_width.begin(), by_width.end());
  double sum = 0;
  for (const auto& [width, share] : by_width) {
    sum += share;
    if (sum >= 0.5) return width;
  }
  return by_width.back().first;
}

std::string name_of_table(car::TableWhat what) {
  return what == car::TableWhat::ve ? "VE" : "the correction";
}

std::string sentence_of(const EstimateReply& r) {
  if (r.verdict == advice::Verdict::do_not_know) {
    return fmt::format("I do not know this table yet: {}.", r.because);
  }
  const std::string known = fmt::format("Where it was driven {} is known to \xC2\xB1{:.1f} %",
                                        name_of_table(r.evidence->what), 100 * r.driven_half_width);
  if (r.verdict == advice::Verdict::weak) return known + ", but no node is measured yet.";
  if (r.evidence->what == car::TableWhat::ve && !r.in_force) {
    return fmt::format("{}; {} of {} nodes are measured.", known, r.measured,
                       r.evidence->sd_log.size());
  }
  return fmt::format("{}; there it wants {:+.1f} % on average (\xC2\xB1{:.1f} %).", known,
                     100 * r.shift, 100 * r.shift_half_width);
}

// The lowest speed from which every node of the top loads is still a guess, in words.
std::string not_known_of(const EstimateReply& r) {
  const car::Evidence& e = *r.evidence;
  const auto guess = [&](std::size_t ix, std::size_t iy) {
    return e.mark[e.grid.index(ix, iy)] == car::NodeMark::prior_only;
  };
  const std::size_t top = e.grid.y.kind() == car::AxisKind::vacuum ? 0 : e.grid.y.size() - 1;
  std::size_t from = e.grid.x.size();
  while (from > 0 && guess(from - 1, top)) --from;
  const auto at = [&](std::size_t ix) { return e.grid.x.format_point(ix, r.units); };
  if (r.prior_only == 0) return "No node is a mere guess any more.";
  if (from == 0) {
    return fmt::format(
        "The highest load is a guess at every speed; {} of {} nodes are guesses in all.",
        r.prior_only, e.mark.size());
  }
  std::size_t top_guesses = 0;
  for (std::size_t ix = 0; ix < e.grid.x.size(); ++ix) top_guesses += guess(ix, top);
  if (from < e.grid.x.size()) {
    return fmt::format(
        "The highest load is a guess at {} of {} speeds, from {} up at every one; {} of {} nodes "
        "are guesses in all.",
        top_guesses, e.grid.x.size(), at(from), r.prior_only, e.mark.size());
  }
  return fmt::format("{} of {} nodes are still guesses.", r.prior_only, e.mark.size());
}

// The whole-table factor against the table in force: ln(true / in force), weighted by where the car
// was driven.
double shift_against(const advice::MapEstimate& e, const car::Surface& start,
                     const car::Surface* in_force) {
  double shift = e.shift.ln;
  if (!in_force) return shift;
  const car::Grid& g = e.evidence.grid;
  for (std::size_t iy = 0; iy < g.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < g.x.size(); ++ix) {
      const double share = e.usage[static_cast<Eigen::Index>(g.index(ix, iy))];
      shift += share * std::log(start.node(ix, iy) / in_force->at(g.x[ix], g.y[iy]));
    }
  }
  return shift;
}

void fill(EstimateReply& reply, const advice::MapEstimate& e) {
  reply.verdict = e.verdict;
  reply.because = e.because;
  reply.evidence = e.evidence;
  reply.shift_half_width = 1.959964 * e.shift.sd;
  reply.driven_half_width = driven_half_width(e);
  reply.repetition = e.repetition;
  reply.noise_scale = e.noise_scale;
  for (const car::NodeMark m : e.evidence.mark) {
    ++(m == car::NodeMark::measured   ? reply.measured
       : m == car::NodeMark::inferred ? reply.inferred
                                      : reply.prior_only);
  }
}

bool is_unboosted(const car::Axis& load) {
  switch (load.kind()) {
    case car::AxisKind::map_absolute:
      return load[load.size() - 1] < 110e3;
    case car::AxisKind::vacuum:
      return load[0] > -8e3;
    default:
      return true;
  }
}

// VE that no engine has without boost, by share of the driving: some number on the sheet is wrong.
void warn_of_impossible_ve(const advice::MapEstimate& e, EstimateReply& reply) {
  constexpr double kHighest =
      1.20;  // tuned street engines reach about 1.1 (common practice, no source)
  constexpr double kLowest = 0.20;
  if (e.evidence.what != car::TableWhat::ve) return;
  double outside = 0;
  double worst = 1;
  for (std::size_t i = 0; i < e.evidence.estimate.size(); ++i) {
    const double ve = e.evidence.estimate[i];
    const double share = e.usage[static_cast<Eigen::Index>(i)];
    if (share <= 0 || (ve <= kHighest && ve >= kLowest)) continue;
    outside += share;
    if (std::abs(std::log(ve)) > std::abs(std::log(worst))) worst = ve;
  }
  if (outside < 0.05) return;
  reply.warnings.push_back(
      fmt::format("VE of {:.0f} % and the like in {:.0f} % of the driving: no engine breathes so "
                  "without boost; check "
                  "displacement, cylinders, injector flow and count, squirts per cycle and the "
                  "gauge's constant before you load "
                  "this",
                  100 * worst, 100 * outside));
}

// Recordings that cannot both be right: each one's mean distance from the joint answer, over its
// own driving.
void warn_of_disagreement(const std::deque<Speaker>& speakers, const advice::SampleSource& all,
                          const std::vector<UsedRecording>& list, const advice::MapEstimate& e,
                          EstimateReply& reply) {
  constexpr double kTooFar =
      0.06;  // days, fuels and sensors differ by 2 to 3 % (common practice, no source)
  if (speakers.size() < 2) return;
  std::vector<double> sum(speakers.size(), 0.0);
  std::vector<double> weight(speakers.size(), 0.0);
  all([&](const advice::Sample& s) {
    std::size_t k = 0;
    while (k + 1 < speakers.size() && s.run >= speakers[k + 1].first_run) ++k;
    const double level = e.instrument_level[static_cast<std::size_t>(s.instrument)];
    const double w = 1 / (s.sd * s.sd);
    sum[k] += w * (s.y - level - e.at(s.at, s.warmth).ln);
    weight[k] += w;
  });
  std::vector<std::int64_t> ids;
  for (const UsedRecording& u : list) {
    if (u.left_out.empty()) ids.push_back(u.id);
  }
  const auto off = [&](std::size_t k) { return weight[k] > 0 ? sum[k] / weight[k] : 0.0; };
  std::size_t low = 0;
  std::size_t high = 0;
  for (std::size_t k = 1; k < speakers.size(); ++k) {
    if (off(k) < off(low)) low = k;
    if (off(k) > off(high)) high = k;
  }
  if (off(high) - off(low) < kTooFar) return;
  reply.warnings.push_back(
      fmt::format("recordings {} and {} disagree by {:.0f} %: another fuel, sensor or table was in "
                  "the car; say --revision when "
                  "adding, or leave one out",
                  ids[low], ids[high], 100 * std::expm1(off(high) - off(low))));
}

std::string details_json(const EstimateReply& r) {
  nlohmann::json j{{"verdict", advice::name_of(r.verdict)},
                   {"because", r.because},
                   {"shift", r.shift},
                   {"shift_half_width", r.shift_half_width},
                   {"repetition", r.repetition},
                   {"noise_scale", r.noise_scale}};
  return j.dump();
}

}  // namespace

Result<EstimateReply> estimate(const EstimateRequest& request) {
  FW_TRY(Job job, Job::open(request.job, Access::write));
  FW_TRY(const Ground ground, load(job, request.job));
  EstimateReply reply;
  reply.units = ground.units;
  reply.parent = ground.in_force.number;
  if (ground.recordings.empty()) {
    return Error{ErrorCode::not_found, request.job, "no recording in this job; add one first"};
  }
  const Task task = task_of(ground, request);
  FW_TRY(const auto speakers, speakers_of(ground, task, request, reply.recordings));
  advice::EstimateOptions options;
  options.prior = task.prior;
  options.instrument_level_sd = {advice::level_sd(Way::pulse_width),
                                 advice::level_sd(Way::metered_air)};
  const advice::SampleSource all = join(speakers, task);
  const advice::MapEstimate e = advice::estimate(task.start, task.what, all, options);
  fill(reply, e);
  warn_of_disagreement(speakers, all, reply.recordings, e, reply);
  if (is_unboosted(task.start.grid.y)) warn_of_impossible_ve(e, reply);
  if (ground.ensemble && task.prior.given) {
    if (const auto family = family_of(*ground.ensemble, e.evidence)) {
      reply.family = family->says();
      if (!family->may_extrapolate()) reply.warnings.push_back(reply.family);
    }
  }

  const car::Surface* in_force = ground.in_force.calibration.find(task.what);
  if (in_force) reply.in_force = *in_force;
  const car::Surface one = car::Surface::flat(task.start.grid, 1.0);
  if (task.what == car::TableWhat::correction && !in_force) reply.in_force = one;
  reply.shift =
      std::expm1(shift_against(e, task.start, reply.in_force ? &*reply.in_force : nullptr));
  reply.sentence = sentence_of(reply);
  reply.not_known = not_known_of(reply);
  if (reply.verdict == advice::Verdict::do_not_know) return reply;  // nothing to propose

  const advice::ProposedTable proposed =
      advice::propose(e, reply.in_force ? &*reply.in_force : nullptr);
  reply.proposed = proposed.surface;
  reply.reason = proposed.reason;
  ProposalIn in{{reply.parent, ground.in_force.calibration, e.evidence, proposed.reason},
                details_json(reply),
                {}};
  in.proposal.calibration.tables.insert_or_assign(task.what, proposed.surface);
  in.proposal.calibration.origins.insert_or_assign(
      task.what, car::origin_of(e.evidence, proposed.surface.grid, proposed.reason));
  for (const UsedRecording& u : reply.recordings) {
    if (u.left_out.empty()) in.recordings.push_back({u.id});
  }
  FW_TRY(reply.proposal, job.save_proposal(in, {request.who.name, request.who.when, ""}));
  return reply;
}

}  // namespace fuelwright::service
