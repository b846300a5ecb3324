// The chart of a table: what is known of each node, from what, and what is in force.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "advice/prediction/prediction.h"
#include "car/build/derived.h"
#include "service/chart.h"
#include "service/chart_nodes.h"
#include "service/service.h"
#include "service/worth_now.h"

namespace fuelwright::service {
namespace {

using car::TableWhat;

// VE as the parts have it; nothing if no engines were ever drawn.
Status take_parts(const Job& job, const car::Sheet& sheet, ChartReply& r) {
  if (sheet.wishes.load_axis.value == car::LoadAxis::throttle) return Done{};
  FW_TRY(const EnginesNow now, engines_now(job, sheet));
  if (!now.engines) return Done{};
  FW_TRY(const advice::Prediction p, advice::predict_engine(sheet, *now.engines));
  r.evidence = car::Evidence{TableWhat::ve, p.air.grid, p.air.ve, p.air.sd_log, {}, {}};
  r.evidence->seconds.assign(p.air.ve.size(), 0);
  r.evidence->mark.assign(p.air.ve.size(), car::NodeMark::prior_only);
  r.basis = Basis::parts;
  if (now.of == WorthOf::earlier) r.stale.push_back(now.says);
  return Done{};
}

struct Known {
  std::optional<StoredProposal> last;  // evidence; accepted or not
  std::optional<StoredProposal> open;
};

template <class T>
Result<std::optional<T>> if_there(Result<T> r) {
  if (r) return std::optional<T>(std::move(*r));
  if (r.error().code == ErrorCode::not_found) return std::optional<T>{};
  return r.error();
}

Result<Known> known_of(const Job& job) {
  Known k;
  FW_TRY(k.last, if_there(job.evidence()));
  FW_TRY(k.open, if_there(job.proposal()));
  return k;
}

std::vector<TableWhat> tables_of(const car::Calibration& c, const std::optional<car::Evidence>& e) {
  std::vector<TableWhat> out;
  for (const TableWhat w : car::all_tables()) {
    if (c.find(w) || (e && e->what == w)) out.push_back(w);
  }
  return out;
}

TableWhat table_of(const ChartRequest& request, const Known& known, const car::Calibration& c) {
  if (request.table) return *request.table;
  if (known.last) return known.last->proposal.evidence.what;
  return !c.find(TableWhat::ve) && c.find(TableWhat::correction) ? TableWhat::correction
                                                                 : TableWhat::ve;
}

// On other axes of the same kinds it is read off there.
std::optional<car::Surface> on_grid(const car::Surface* s, const car::Grid& grid) {
  if (!s || s->grid.y.kind() != grid.y.kind() || s->grid.x.kind() != grid.x.kind()) return {};
  if (s->grid == grid) return *s;
  car::Surface out = car::Surface::flat(grid, 0);
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      out.node(ix, iy) = s->at(grid.x[ix], grid.y[iy]);
    }
  }
  return out;
}

std::vector<std::string> stale_of(const Known& known, const std::vector<JournalRow>& journal) {
  std::vector<std::string> out;
  if (!known.last) return out;
  bool came = false, sheet = false;
  for (const JournalRow& row : journal) {
    if (row.command == "estimate") came = sheet = false;
    if (row.command == "add" || row.command == "read") came = true;
    if (row.command == "sheet") sheet = true;
  }
  if (came) out.emplace_back("a recording came since the estimate was made");
  if (sheet) out.emplace_back("the sheet was changed since the estimate was made");
  if (known.open && !known.open->parent_in_force) {
    out.push_back(fmt::format("the proposal would replace revision {}, which is no longer in force",
                              known.open->proposal.parent));
  }
  return out;
}

void take_correction(ChartReply& r) {
  if (!r.in_force || r.basis != Basis::driving || !car::changes_by_share(r.table)) return;
  for (std::size_t i = 0; i < r.evidence->estimate.size(); ++i) {
    r.correction.push_back(r.evidence->estimate[i] / r.in_force->values[i] - 1);
  }
}

void take_reach(const car::Sheet& sheet, ChartReply& r) {
  r.ambient = sheet.place.pressure.value;
  const car::AxisKind load = r.grid->y.kind();
  if (load == car::AxisKind::throttle || r.grid->x.kind() != car::AxisKind::engine_speed) return;
  for (std::size_t i = 0; i < r.grid->x.size(); ++i) {
    const double p = advice::open_throttle(sheet, rpm(r.grid->x[i])).from_zero.si;
    r.reach.push_back(load == car::AxisKind::vacuum ? r.ambient.from_zero.si - p : p);
  }
}

void take_change(ChartReply& r) {
  const car::Surface* to = r.proposed ? &*r.proposed : nullptr;
  if (!r.in_force || (!to && !r.evidence)) return;
  const std::vector<double>& now = to ? to->values : r.evidence->estimate;
  for (std::size_t i = 0; i < now.size(); ++i) {
    const double was = r.in_force->values[i];
    r.change.push_back(car::changes_by_share(r.table) ? now[i] / was - 1 : now[i] - was);
  }
}

std::string sentence_of(const ChartReply& r, bool of_parts) {
  const std::size_t n = r.grid->size();
  if (r.basis == Basis::table) {
    return fmt::format("Revision {} says this; nothing is known yet of how far it is right.",
                       r.revision);
  }
  if (r.basis == Basis::parts) {
    return fmt::format(
        "Computed from the parts: of {} nodes {} are known to 10 % or better; {}.", n,
        std::ranges::count_if(r.evidence->sd_log, [](double s) { return 1.959964 * s <= 0.10; }),
        of_parts ? "what was driven is left out" : "nothing is driven yet");
  }
  const auto count = [&](car::NodeMark m) { return std::ranges::count(r.evidence->mark, m); };
  return fmt::format(
      "Of {} nodes {} are driven, {} follow from their neighbours, {} are guesses.{}", n,
      count(car::NodeMark::measured), count(car::NodeMark::inferred),
      count(car::NodeMark::prior_only), r.proposed ? " A proposal waits." : "");
}

}  // namespace

const char* name_of(Basis basis) {
  switch (basis) {
    case Basis::driving:
      return "driving";
    case Basis::parts:
      return "parts";
    case Basis::table:
      return "table";
  }
  broken_contract("a basis of a chart", __FILE__, __LINE__);
}

Result<ChartReply> chart(const ChartRequest& request) {
  FW_TRY(const Job job, Job::open(request.job, Access::read));
  ChartReply r;
  FW_TRY(r.units, job.units());
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, request.job + ": sheet"));
  FW_TRY(const car::Revision revision,
         request.against ? job.revision(*request.against) : job.revision_in_force());
  Known known;
  if (!request.of_parts) {
    FW_TRY(known, known_of(job));
  }
  FW_TRY(const std::vector<JournalRow> journal, job.journal());
  r.head = journal.empty() ? 0 : journal.back().id;
  r.revision = revision.number;
  r.table = table_of(request, known, revision.calibration);
  if (known.last && known.last->proposal.evidence.what == r.table) {
    r.evidence = known.last->proposal.evidence;
    r.basis = Basis::driving;
  } else if (r.table == TableWhat::ve) {
    FW_CHECK(take_parts(job, sheet, r));
  }
  r.tables = tables_of(revision.calibration, r.evidence);
  const car::Surface* table = revision.calibration.find(r.table);
  if (!table && !r.evidence) {
    return Error{
        ErrorCode::not_found, request.job,
        fmt::format("there is no {} table in revision {} and nothing is predicted or driven yet",
                    car::name_of(r.table), r.revision)};
  }
  r.grid = r.evidence ? r.evidence->grid : table->grid;
  r.in_force = on_grid(table, *r.grid);
  if (known.open) {
    const car::Surface* p = known.open->proposal.calibration.find(r.table);
    if (known.open->proposal.evidence.what == r.table) r.proposed = on_grid(p, *r.grid);
    r.proposal = known.open->id;
    r.parent = known.open->proposal.parent;
  }
  std::ranges::move(stale_of(known, journal), std::back_inserter(r.stale));
  take_correction(r);
  take_reach(sheet, r);
  r.name = sheet.engine.name.value;
  take_change(r);
  for (const auto& one : request.recordings) {
    if (r.basis != Basis::driving) break;
    r.rests_on.push_back(rests_on(*one, *r.grid, sheet.place.pressure.value));
  }
  r.says = node_words(r);
  bool driven_too = false;
  if (request.of_parts) {
    FW_TRY(const auto evidence, if_there(job.evidence()));
    driven_too = evidence.has_value();
  }
  r.sentence = sentence_of(r, driven_too);
  return r;
}

Result<AbsolutePressure> ambient_of(const std::string& path) {
  FW_TRY(const Job job, Job::open(path, Access::read));
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, path + ": sheet"));
  return sheet.place.pressure.value;
}

Result<ProposalReply> proposal(const std::string& path) {
  FW_TRY(const Job job, Job::open(path, Access::read));
  ProposalReply r;
  FW_TRY(r.units, job.units());
  FW_TRY(r.stored, job.proposal());
  FW_TRY(const car::Revision parent, job.revision(r.stored->proposal.parent));
  r.tables = car::differences(parent.calibration, r.stored->proposal.calibration);
  FW_TRY(const std::vector<JournalRow> journal, job.journal());
  FW_TRY(const Known known, known_of(job));
  const auto stale = stale_of(known, journal);
  if (!stale.empty()) {
    r.may_accept = false;
    r.because = fmt::format("{}; estimate again first", fmt::join(stale, "; "));
  }
  return r;
}

}  // namespace fuelwright::service
