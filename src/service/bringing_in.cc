// Tables brought in by hand: read, laid on the tables in force, shown, and then made a revision.
#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "car/build/derived.h"
#include "car/tables/cdf.h"
#include "car/tables/table_json.h"
#include "service/difference_words.h"
#include "service/service.h"

namespace fuelwright::service {
namespace {

struct Came {
  std::map<car::TableWhat, car::ReadTable> tables;
  car::Calibration parts;  // curves and settings; what stood beside anything as its origin
};

// What a request is read against.
struct Now {
  UnitSystem units = UnitSystem::metric;
  car::Revision revision;  // in force
  car::Grid sheet_grid;    // for a table that the job has not yet
};

Result<Now> now_in(const Job& job) {
  FW_TRY(const UnitSystem units, job.units());
  FW_TRY(const std::string toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(toml, job.path() + ": sheet"));
  FW_TRY(car::Revision revision, job.revision_in_force());
  return Now{units, std::move(revision), car::table_grid(sheet)};
}

ExportForm form_of(const BringInRequest& request) {
  if (request.form) return *request.form;
  std::string_view text = request.table.text;
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  const auto first = text.find_first_not_of(" \t\r\n");
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) return ExportForm::cdf;
  if (first == std::string_view::npos) return ExportForm::tsv;
  return text[first] == '<'   ? ExportForm::cdf
         : text[first] == '{' ? ExportForm::json
                              : ExportForm::tsv;
}

car::TableWhat main_table(const car::Calibration& c) {
  const bool correction = !c.find(car::TableWhat::ve) && c.find(car::TableWhat::correction);
  return correction ? car::TableWhat::correction : car::TableWhat::ve;
}

// "1500 rpm, 40 kPa": the node of the grid.
Result<car::NodePlace> place_named(const std::string& text, const car::Grid& grid,
                                   UnitSystem units) {
  const auto cut = text.find(',');
  if (cut == std::string::npos) {
    return Error{ErrorCode::usage, "--at",
                 fmt::format("\"{}\" came; expected a node such as \"1500 rpm, 40 kPa\"", text)};
  }
  const bool throttle = grid.y.kind() == car::AxisKind::throttle;
  const Kind kind = car::number_kind(grid.y.kind());
  const std::string bare = throttle ? "%" : display_unit(kind, units).symbol;
  const auto x = parse_number(text.substr(0, cut), Kind::engine_speed, "rpm");
  if (!x) return Error{x.error().code, "--at", x.error().message};
  const auto y = parse_number(text.substr(cut + 1), kind, bare);
  if (!y) return Error{y.error().code, "--at", y.error().message};
  const auto ix = car::breakpoint_at(grid.x, x->si);
  const auto iy = car::breakpoint_at(grid.y, y->si);
  if (ix && iy) return car::NodePlace{*ix, *iy};
  return Error{ErrorCode::not_found, "--at", fmt::format("\"{}\" is no node of the table", text)};
}

Result<car::TextReading> reading_for(const BringInRequest& request, const Now& now,
                                     car::TableWhat what) {
  car::TextReading reading = request.table.reading;
  reading.what = what;
  const car::Surface* there = now.revision.calibration.find(what);
  if (!reading.axes) reading.axes = there ? there->grid : now.sheet_grid;
  reading.whole = there == nullptr;  // no part of a table that is not there yet
  if (!request.at.empty()) {
    FW_TRY(reading.at, place_named(request.at, *reading.axes, now.units));
  }
  return reading;
}

// ---- the forms
// ---------------------------------------------------------------------------------------------------------

Result<Came> from_text(const BringInRequest& request, const Now& now) {
  const car::What part = request.what.value_or(main_table(now.revision.calibration));
  const auto* what = std::get_if<car::TableWhat>(&part);
  if (!what) {
    return Error{ErrorCode::usage, car::name_of(part),
                 "is no table; curves and settings come in as JSON or CDF"};
  }
  FW_TRY(const car::TextReading reading, reading_for(request, now, *what));
  FW_TRY(car::ReadTable table, car::read_table(request.table.text, reading));
  Came out;
  out.tables.emplace(*what, std::move(table));
  return out;
}

Result<Came> from_json(const BringInRequest& request) {
  FW_TRY(const car::Calibration c, car::read_tables_json(request.table.text));
  if (request.what && !c.has(*request.what)) {
    return Error{ErrorCode::not_found, "tables",
                 fmt::format("none is called \"{}\"", car::name_of(*request.what))};
  }
  const auto wanted = [&](const car::What& w) { return !request.what || *request.what == w; };
  Came out;
  for (const auto& [what, surface] : c.tables) {
    if (!wanted(what)) continue;
    out.tables.emplace(what, car::ReadTable{surface, true, "", "units as the file says"});
  }
  for (const auto& part : c.curves) {
    if (wanted(part.first)) out.parts.curves.insert(part);
  }
  for (const auto& part : c.settings) {
    if (wanted(part.first)) out.parts.settings.insert(part);
  }
  for (const auto& origin : c.origins) {
    if (wanted(origin.first)) out.parts.origins.insert(origin);
  }
  return out;
}

bool same_word(std::string_view a, std::string_view b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](char x, char y) {
    return std::tolower(static_cast<unsigned char>(x)) ==
           std::tolower(static_cast<unsigned char>(y));
  });
}

std::string names_of_maps(const std::vector<car::CdfInstance>& all) {
  constexpr int kMost = 8;
  std::string out;
  int count = 0;
  for (const car::CdfInstance& i : all) {
    if (i.kind != car::CdfKind::map) continue;
    if (++count > kMost) return out + " and more";
    out += (out.empty() ? "" : ", ") + i.name.substr(0, 40);
  }
  return out;
}

// The instance that is the table: the named one, the one of its name, or the only map.
Result<const car::CdfInstance*> instance_for(const std::vector<car::CdfInstance>& all,
                                             const std::string& named, car::TableWhat what) {
  const car::CdfInstance* only = nullptr;
  int maps = 0;
  for (const car::CdfInstance& i : all) {
    if (named.empty() ? same_word(i.name, car::name_of(what)) : i.name == named) return &i;
    if (i.kind != car::CdfKind::map) continue;
    only = &i;
    ++maps;
  }
  if (maps == 0) return Error{ErrorCode::not_found, "CDF", "holds no map over two axes"};
  if (named.empty() && maps == 1) return only;
  return Error{
      named.empty() ? ErrorCode::needs_answer : ErrorCode::not_found, "CDF",
      fmt::format("{}; give --named with one of: {}",
                  named.empty() ? fmt::format("no map is called \"{}\"", car::name_of(what))
                                : "no map has that name",
                  names_of_maps(all))};
}

// The instance of a curve or a setting: the named one, else the one of its name; null if none.
const car::CdfInstance* part_in(const std::vector<car::CdfInstance>& all, const std::string& named,
                                const char* name) {
  for (const car::CdfInstance& i : all) {
    if (named.empty() ? same_word(i.name, name) : i.name == named) return &i;
  }
  return nullptr;
}

Status add_curve(const car::CdfInstance& i, car::CurveWhat what, car::Calibration& out) {
  FW_TRY(car::Curve curve, car::curve_of(i, what));
  out.curves.emplace(what, std::move(curve));
  return Done{};
}

Status add_setting(const car::CdfInstance& i, car::SettingWhat what, car::Calibration& out) {
  FW_TRY(const double value, car::setting_of(i, what));
  out.settings.emplace(what, value);
  return Done{};
}

// One curve or setting that was asked for.
Result<Came> part_from_cdf(const std::vector<car::CdfInstance>& all, const std::string& named,
                           const car::What& part) {
  const std::string name = car::name_of(part);
  const car::CdfInstance* i = part_in(all, named, name.c_str());
  if (!i) {
    return Error{ErrorCode::not_found, "CDF",
                 fmt::format("no instance is called \"{}\"", named.empty() ? name : named)};
  }
  Came out;
  if (const auto* curve = std::get_if<car::CurveWhat>(&part)) {
    FW_CHECK(add_curve(*i, *curve, out.parts));
  } else {
    FW_CHECK(add_setting(*i, std::get<car::SettingWhat>(part), out.parts));
  }
  return out;
}

// Every curve and setting whose name the file has.
Status all_parts_from_cdf(const std::vector<car::CdfInstance>& all, car::Calibration& out) {
  for (const auto what : car::all_curves()) {
    if (const auto* i = part_in(all, "", car::name_of(what))) FW_CHECK(add_curve(*i, what, out));
  }
  for (const auto what : car::all_settings()) {
    if (const auto* i = part_in(all, "", car::name_of(what))) FW_CHECK(add_setting(*i, what, out));
  }
  return Done{};
}

std::vector<car::TableWhat> tables_named_in(const std::vector<car::CdfInstance>& all) {
  std::vector<car::TableWhat> out;
  for (const auto what : car::all_tables()) {
    const bool there = std::any_of(all.begin(), all.end(), [&](const car::CdfInstance& i) {
      return i.kind == car::CdfKind::map && same_word(i.name, car::name_of(what));
    });
    if (there) out.push_back(what);
  }
  return out;
}

Result<Came> from_cdf(const BringInRequest& request, const Now& now) {
  FW_TRY(const auto all, car::read_cdf(request.table.text));
  if (request.what && !std::holds_alternative<car::TableWhat>(*request.what)) {
    return part_from_cdf(all, request.named, *request.what);
  }
  Came out;
  std::vector<car::TableWhat> wanted;
  const car::TableWhat main = main_table(now.revision.calibration);
  if (request.what || !request.named.empty()) {
    wanted = {request.what ? std::get<car::TableWhat>(*request.what) : main};
  } else {
    FW_CHECK(all_parts_from_cdf(all, out.parts));
    wanted = tables_named_in(all);
    if (wanted.empty() && car::same_numbers(out.parts, {})) wanted = {main};
  }
  for (const car::TableWhat what : wanted) {
    FW_TRY(const car::CdfInstance* instance, instance_for(all, request.named, what));
    FW_TRY(const car::TextReading reading, reading_for(request, now, what));
    FW_TRY(car::ReadTable table, car::table_of(*instance, reading));
    out.tables.emplace(what, std::move(table));
  }
  return out;
}

Result<Came> read_all(const BringInRequest& request, const Now& now) {
  const auto read = [&]() -> Result<Came> {
    switch (form_of(request)) {
      case ExportForm::csv:
      case ExportForm::tsv:
        return from_text(request, now);
      case ExportForm::json:
        return from_json(request);
      case ExportForm::cdf:
        return from_cdf(request, now);
    }
    broken_contract("a form of tables", __FILE__, __LINE__);
  }();
  if (read) return read;
  Error e = read.error();
  if (e.where != "--at") e.where = request.table.name + (e.where.empty() ? "" : ": " + e.where);
  return e;
}

// ---- on the tables in force
// ---------------------------------------------------------------------------------------

struct Change {
  BringInReply reply;
  car::Calibration calibration;
};

std::string understood(const car::ReadTable& came, const car::Placed& placed) {
  std::string out = came.axes_note;
  if (!came.note.empty()) out += "; " + came.note;
  if (placed.axes == car::AxesThatCame::other) out += "; interpolated from other axes";
  if (placed.largest_shift > 0) {
    out += fmt::format("; breakpoints taken as the table's own, off by up to {:.1g} % of a step",
                       100 * placed.largest_shift);
  }
  return out;
}

Result<BroughtTable> brought(const BringInRequest& request, car::TableWhat what,
                             const car::ReadTable& came, car::Calibration& calibration) {
  const car::Surface* there = calibration.find(what);
  car::Placed placed{.surface = came.surface, .nodes = std::vector<int>(came.surface.grid.size())};
  if (there) {
    auto laid = car::place(came.surface, *there, request.interpolate,
                           what != car::TableWhat::lambda_target);
    if (!laid) {
      Error e = laid.error();
      e.where = fmt::format("{}: table {}", request.table.name, car::name_of(what));
      return e;
    }
    placed = std::move(*laid);
  }
  BroughtTable out;
  out.difference = car::difference(what, there, &placed.surface);
  out.axes = placed.axes;
  out.nodes = placed.nodes.size();
  out.largest_loss = placed.largest_loss;
  out.understood = understood(came, placed);
  calibration.tables.insert_or_assign(what, std::move(placed.surface));
  return out;
}

std::string what_changes(const BringInReply& r) {
  std::string out;
  const auto add = [&](const auto& d) { out += (out.empty() ? "" : "; ") + in_words(d, r.units); };
  for (const BroughtTable& t : r.tables) {
    if (t.difference.any()) add(t.difference);
  }
  for (const auto& d : r.curves) add(d);
  for (const auto& d : r.settings) add(d);
  return out;
}

// What was changed tells by whom and why; a story that came with its value is kept.
void tell_origins(const BringInRequest& request, const Came& came, const BringInReply& reply,
                  car::Calibration& calibration) {
  const auto tell = [&](const car::What& what) {
    car::Origin told{request.why.empty() ? "brought in by hand"
                                         : fmt::format("brought in by hand: {}", request.why)};
    if (const car::Origin* with = came.parts.origin(what)) told.reason = with->reason;
    calibration.origins.insert_or_assign(what, std::move(told));
  };
  for (const BroughtTable& t : reply.tables) {
    if (t.difference.any()) tell(t.difference.what);
  }
  for (const auto& d : reply.curves) tell(d.what);
  for (const auto& d : reply.settings) tell(d.what);
}

void lay_parts(const Came& came, Change& out) {
  const car::Calibration before = out.calibration;
  for (const auto& [what, curve] : came.parts.curves) {
    out.calibration.curves.insert_or_assign(what, curve);
  }
  for (const auto& [what, value] : came.parts.settings) {
    out.calibration.settings.insert_or_assign(what, value);
  }
  out.reply.curves = car::curve_differences(before, out.calibration);
  out.reply.settings = car::setting_differences(before, out.calibration);
}

Result<Change> change_by(const BringInRequest& request, const Job& job) {
  FW_TRY(const Now now, now_in(job));
  if (request.seen && *request.seen != now.revision.number) {
    return Error{
        ErrorCode::conflict, request.job,
        fmt::format("revision {} was looked at, but revision {} is in force now; look again",
                    *request.seen, now.revision.number)};
  }
  FW_TRY(const Came came, read_all(request, now));
  Change out;
  out.calibration = now.revision.calibration;
  out.reply.units = now.units;
  out.reply.parent = now.revision.number;
  for (const auto& [what, table] : came.tables) {
    FW_TRY(BroughtTable t, brought(request, what, table, out.calibration));
    out.reply.tables.push_back(std::move(t));
  }
  lay_parts(came, out);
  tell_origins(request, came, out.reply, out.calibration);
  FW_CHECK(car::validate(out.calibration));
  const std::string changes = what_changes(out.reply);
  out.reply.sentence =
      changes.empty() ? fmt::format("Nothing changes: revision {} holds these values already.",
                                    out.reply.parent)
                      : fmt::format("This would change revision {}: {}; nothing is written yet.",
                                    out.reply.parent, changes);
  return out;
}

}  // namespace

Result<BringInReply> preview_tables(const BringInRequest& request) {
  FW_TRY(const Job job, Job::open(request.job, Access::read));
  FW_TRY(Change change, change_by(request, job));
  return std::move(change.reply);
}

Result<BringInReply> bring_in(const BringInRequest& request) {
  if (request.why.find_first_not_of(" \t\r\n") == std::string::npos) {
    return Error{ErrorCode::usage, "--why",
                 "none came; a change by hand needs a reason, for the journal"};
  }
  FW_TRY(Job job, Job::open(request.job, Access::write));
  FW_TRY(Change change, change_by(request, job));
  const std::string changes = what_changes(change.reply);
  if (changes.empty()) return std::move(change.reply);
  FW_TRY(change.reply.revision, job.add_edit(change.calibration, change.reply.parent,
                                             {request.who.name, request.who.when, request.why}));
  change.reply.sentence = fmt::format(
      "Revision {} is in force, by hand: {}; load its table into the unit before the next drive.",
      *change.reply.revision, changes);
  return std::move(change.reply);
}

}  // namespace fuelwright::service
