// New jobs, accepting, exporting, showing.
#include <fmt/format.h>

#include <algorithm>

#include "car/build/derived.h"
#include "car/tables/cdf.h"
#include "car/tables/table_json.h"
#include "service/service.h"

namespace fuelwright::service {
namespace {

// The mixture targets of the wishes over the unit's own axes: idle at low speed and load, full
// throttle from 90 kPa (or 80 % throttle), cruise elsewhere, blended between (common practice, no
// source).
car::Surface lambda_targets(const car::Sheet& sheet) {
  const car::Grid grid = car::table_grid(sheet);
  const double idle = sheet.wishes.idle_mixture.si();
  const double cruise = sheet.wishes.cruise_mixture.si();
  const double full = sheet.wishes.full_throttle_mixture.si();
  const double idle_rpm = sheet.wishes.idle_speed.si();
  car::Surface out = car::Surface::flat(grid, cruise);
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const double load = advice::load_coordinate(grid.y.kind(), grid.y[iy]);
      const double rich = std::clamp((load - 0.75) / 0.15, 0.0, 1.0);
      const double idling = std::clamp((1.6 * idle_rpm - grid.x[ix]) / (0.3 * idle_rpm), 0.0, 1.0);
      const double part = idle * idling + cruise * (1 - idling);
      // Three decimals, as units take them; full throttle is rounded to the rich side.
      out.node(ix, iy) = std::floor(1000 * (part * (1 - rich) + full * rich) + 1e-9) / 1000;
    }
  }
  return out;
}

Result<car::Calibration> start_calibration(const car::Sheet& sheet, const NewRequest& request) {
  car::Calibration out;
  out.tables.emplace(car::TableWhat::lambda_target, lambda_targets(sheet));
  if (request.ve_as_found) {
    car::TextReading reading = request.ve_as_found->reading;
    reading.what = car::TableWhat::ve;
    if (!reading.axes) reading.axes = car::table_grid(sheet);
    reading.whole = true;
    auto table = car::read_table(request.ve_as_found->text, reading);
    if (!table) {
      Error e = table.error();
      e.where = request.ve_as_found->name + (e.where.empty() ? "" : ": " + e.where);
      return e;
    }
    out.tables.emplace(car::TableWhat::ve, std::move(table->surface));
  }
  return out;
}

UnitSystem units_of_sheet(const std::string& toml) {
  for (const char* word : {" in\"", " cu in", " lb/h", " psi", " degF", " mph", " ft\""}) {
    if (toml.find(word) != std::string::npos) return UnitSystem::us;
  }
  return UnitSystem::metric;
}

std::string engine_sentence(const car::Sheet& sheet, UnitSystem units) {
  return fmt::format("{}, {} cylinders, {} injectors of {} each, {}",
                     format(sheet.engine.displacement.si(), Kind::volume, units, 3),
                     sheet.engine.cylinders.value, sheet.injection.injector_count.value,
                     format(sheet.injection.injector_flow.si(), Kind::mass_flow, units, 3),
                     sheet.fuel.name.value);
}

const car::Surface* main_table(const car::Calibration& c) {
  if (const auto* ve = c.find(car::TableWhat::ve)) return ve;
  return c.find(car::TableWhat::correction);
}

}  // namespace

Result<NewReply> new_job(const NewRequest& request) {
  FW_TRY(const car::Sheet sheet, car::read_sheet(request.sheet_toml, request.sheet_name));
  FW_TRY(const car::Calibration start, start_calibration(sheet, request));
  NewReply reply;
  reply.job = request.job;
  reply.units = request.units.value_or(units_of_sheet(request.sheet_toml));
  reply.sheet = car::describe(sheet, reply.units);
  for (const car::Line& line : reply.sheet) {
    ++(line.source == car::Source::typical ? reply.typical : reply.given);
  }
  reply.start = request.ve_as_found ? "the VE table as found"
                                    : "mixture targets from your wishes, no VE table yet";
  FW_TRY(Job job,
         Job::create(request.job,
                     {request.sheet_toml, reply.units, {request.who.name, request.who.when, ""}}));
  FW_CHECK(job.add_as_found(start, {request.who.name, request.who.when, reply.start}));
  reply.sentence = fmt::format(
      "The job {} knows {} values of this engine ({}); {} more are typical, "
      "each with its spread.",
      request.job, reply.given, engine_sentence(sheet, reply.units), reply.typical);
  return reply;
}

namespace {

// A proposal speaks for the recordings that were there when it was made.
Status nothing_came_since(const Job& job, const std::string& name) {
  FW_TRY(const std::vector<JournalRow> journal, job.journal());
  bool came = false;
  for (const JournalRow& row : journal) {
    if (row.command == "estimate") came = false;
    if (row.command == "add" || row.command == "read") came = true;
  }
  const auto open = job.proposal();
  if (open && came) {
    return Error{ErrorCode::conflict, name,
                 "a recording came after this proposal was made; estimate again first"};
  }
  return Done{};
}

}  // namespace

Result<AcceptReply> accept(const AcceptRequest& request) {
  FW_TRY(Job job, Job::open(request.job, Access::write));
  FW_CHECK(nothing_came_since(job, request.job));
  FW_TRY(const int number,
         job.accept_proposal({request.who.name, request.who.when, request.why}, request.seen));
  AcceptReply reply;
  reply.revision = number;
  reply.sentence = fmt::format(
      "Revision {} is in force: load its table into the unit and clear the unit's own corrections "
      "before the next drive.",
      number);
  return reply;
}

// ---- export
// --------------------------------------------------------------------------------------------------------

Status keep_units(const std::string& path, UnitSystem units, const Who& who) {
  FW_TRY(Job job, Job::open(path, Access::write));
  FW_TRY(const UnitSystem now, job.units());
  if (now == units) return Done{};
  return job.set_units(units, {who.name, who.when, ""});
}

Result<ExportForm> export_form_named(std::string_view name) {
  if (name == "csv") return ExportForm::csv;
  if (name == "tsv") return ExportForm::tsv;
  if (name == "json") return ExportForm::json;
  if (name == "cdf") return ExportForm::cdf;
  return Error{ErrorCode::usage, "--form",
               fmt::format("\"{}\" came; expected csv, tsv, json or cdf", name)};
}

Result<std::string> export_tables(const ExportRequest& request) {
  FW_TRY(Job job, Job::open(request.job, Access::read));
  FW_TRY(const UnitSystem units, job.units());
  FW_TRY(const car::Revision revision,
         request.revision ? job.revision(*request.revision) : job.revision_in_force());
  const car::Calibration& c = revision.calibration;
  if (request.what && !c.has(*request.what)) {
    return Error{
        ErrorCode::not_found, request.job,
        fmt::format("revision {} has no \"{}\"", revision.number, car::name_of(*request.what))};
  }
  if (request.form == ExportForm::json) return car::write_tables_json(revision, request.what);
  if (request.form == ExportForm::cdf) return car::write_cdf(c, request.what);
  const auto form = request.form == ExportForm::csv ? car::TextForm::csv : car::TextForm::tsv;
  // Nothing but VE is given unasked: another table in its place would be pasted as VE.
  const car::What part = request.what.value_or(car::TableWhat::ve);
  if (const auto* curve = std::get_if<car::CurveWhat>(&part)) {
    return car::write_curve(*c.find(*curve), *curve, form, units);
  }
  if (std::holds_alternative<car::SettingWhat>(part)) {
    return Error{ErrorCode::usage, car::name_of(part),
                 "is one number, no table; it stands in --form json and cdf"};
  }
  const car::TableWhat what = std::get<car::TableWhat>(part);
  if (const car::Surface* s = c.find(what)) return car::write_table(*s, what, form, units);
  std::string has;
  for (const auto& [other, surface] : c.tables)
    has += fmt::format(" --table {}", car::name_of(other));
  return Error{ErrorCode::not_found, request.job,
               fmt::format("revision {} has no VE table; it has:{}", revision.number, has)};
}

// ---- show
// ----------------------------------------------------------------------------------------------------------

Result<ShowWhat> show_named(std::string_view name) {
  const std::pair<const char*, ShowWhat> all[] = {
      {"summary", ShowWhat::summary},        {"sheet", ShowWhat::sheet},
      {"recordings", ShowWhat::recordings},  {"revisions", ShowWhat::revisions},
      {"evidence", ShowWhat::evidence},      {"journal", ShowWhat::journal},
      {"calibration", ShowWhat::calibration}};
  std::vector<std::string> names;
  for (const auto& [n, what] : all) {
    if (name == n) return what;
    names.emplace_back(n);
  }
  const auto near = nearest(name, names);
  return Error{
      ErrorCode::usage, "show",
      fmt::format("\"{}\" came; expected sheet, recordings, revisions, evidence, journal or "
                  "calibration{}",
                  name, near ? "; did you mean \"" + *near + "\"?" : "")};
}

Result<RevisionReply> revision(const std::string& path, std::optional<int> number) {
  FW_TRY(const Job job, Job::open(path, Access::read));
  FW_TRY(const std::optional<int> now, job.number_in_force());
  FW_TRY(car::Revision r, number ? job.revision(*number) : job.revision_in_force());
  RevisionReply reply{std::move(r)};
  reply.in_force = reply.revision.number == now;
  FW_TRY(reply.units, job.units());
  return reply;
}

Result<ShowReply> show(const ShowRequest& request) {
  FW_TRY(Job job, Job::open(request.job, Access::read));
  ShowReply reply;
  reply.what = request.what;
  FW_TRY(reply.units, job.units());
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, request.job + ": sheet"));
  reply.sheet = car::describe(sheet, reply.units);
  FW_TRY(reply.recordings, job.recordings());
  FW_TRY(reply.revisions, job.revisions());
  FW_TRY(reply.journal, job.journal());
  FW_TRY(const car::Revision in_force, job.revision_in_force());
  if (const car::Surface* s = main_table(in_force.calibration)) reply.in_force = *s;
  reply.revision_in_force = in_force;
  if (auto known = job.evidence()) {
    reply.evidence = known->proposal.evidence;
  } else if (known.error().code != ErrorCode::not_found) {
    return known.error();
  }
  reply.sentence = fmt::format(
      "{}: {}. Revision {} is in force; {}; {}.", request.job, engine_sentence(sheet, reply.units),
      in_force.number,
      reply.recordings.empty() ? "no recording yet"
                               : fmt::format("{} recording{}", reply.recordings.size(),
                                             reply.recordings.size() == 1 ? "" : "s"),
      reply.evidence ? "evidence from driving is there" : "nothing is known from driving yet");
  return reply;
}

}  // namespace fuelwright::service
