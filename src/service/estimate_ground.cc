#include "service/estimate_ground.h"

#include <fmt/format.h>

#include <algorithm>

#include "advice/map_estimate/observe.h"
#include "car/build/derived.h"
#include "service/checking.h"
#include "service/climbing.h"
#include "service/ensembles.h"
#include "service/size_ground.h"

namespace fuelwright::service {
namespace {

using advice::Way;

// Without a table in the unit, VE itself is the better answer wherever a recording can give it.
bool any_absolute(const Ground& g, const EstimateRequest& request) {
  if (request.way) return !advice::is_relative(*request.way);
  const car::Surface probe = car::Surface::flat(car::table_grid(g.sheet), kFlatVe);
  return std::any_of(g.recordings.begin(), g.recordings.end(), [&](const Loaded& l) {
    for (const Way way : {Way::pulse_width, Way::metered_air}) {
      advice::ObserveOptions options;
      options.way = way;
      if (advice::Observer::make(l.recording, g.sheet, probe, options)) return true;
    }
    return false;
  });
}

bool driven_with_ve(const Ground& g) {
  return std::any_of(g.recordings.begin(), g.recordings.end(), [&](const Loaded& l) {
    return in_the_unit(g, l, car::TableWhat::ve).has_value();
  });
}

// A table as found, and the engine computed from its parts where there is one.
Task from_found(const Ground& g, const car::Surface& found) {
  Task alone{car::TableWhat::ve, found, advice::table_as_found_prior()};
  if (!g.ensemble) return alone;
  auto w = weighed(*g.ensemble, found, alone.prior);
  if (!w) return alone;  // a throttle axis: the parts say nothing over it
  if (w->fits()) {
    return {car::TableWhat::ve, std::move(w->both.ve), std::move(w->both.prior), true};
  }
  alone.said = fmt::format(
      "the table as found and the engine computed from its parts do not fit together (chi-squared "
      "{:.1f} per node): one of them is another engine's; only the table as found is built on",
      w->chi2_per_node);
  return alone;
}

}  // namespace

Result<Ground> load_ground(const Job& job, const std::string& name,
                           std::optional<std::int64_t> only) {
  Ground g;
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(g.sheet, car::read_sheet(toml, name + ": sheet"));
  FW_TRY(g.units, job.units());
  FW_TRY(g.guard, guard_rules(job, g.sheet));
  FW_TRY(g.measured, kept_measured(job));
  FW_TRY(g.ensemble, whole_ensemble(job));
  FW_TRY(const car::Revision first, job.revision(0));
  g.start = first.calibration;
  FW_TRY(g.in_force, job.revision_in_force());
  FW_TRY(const auto rows, job.recordings());
  for (const RecordingRow& row : rows) {
    if (only && row.id.value != *only) continue;
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
  FW_TRY(g.climbed, climbed(job, g));
  return g;
}

std::optional<car::Surface> in_the_unit(const Ground& g, const Loaded& l, car::TableWhat what) {
  const car::Surface* table = nullptr;
  if (l.how.driven_with) {
    table = g.driven_with.at(*l.how.driven_with).find(what);
  } else {
    table = g.start.find(what);
  }
  std::optional<car::Surface> out;
  if (table) {
    out = *table;
  } else if (what == car::TableWhat::correction) {
    out = car::Surface::flat(car::table_grid(g.sheet), 1.0);
  }
  if (!out || !l.how.learned) return out;
  const car::Grid& grid = out->grid;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      out->node(ix, iy) *= l.how.learned->at(grid.x[ix], grid.y[iy]);
    }
  }
  return out;
}

Task task_of(const Ground& g, const EstimateRequest& request) {
  if (const car::Surface* ve = g.start.find(car::TableWhat::ve)) return from_found(g, *ve);
  const car::Grid grid = car::table_grid(g.sheet);
  const bool absolute = any_absolute(g, request);
  // A car that has been driven with a computed VE table can be referred to the engine's own
  // ensemble.
  if (g.ensemble && (absolute || driven_with_ve(g))) {
    if (auto b = believed(*g.ensemble, grid)) {
      return {car::TableWhat::ve, std::move(b->ve), std::move(b->prior), true};
    }
  }
  if (absolute) {
    return {car::TableWhat::ve, car::Surface::flat(grid, kFlatVe), advice::unknown_engine_prior()};
  }
  return {car::TableWhat::correction, car::Surface::flat(grid, 1.0),
          advice::table_as_found_prior()};
}

}  // namespace fuelwright::service
