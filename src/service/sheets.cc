// The sheet of a job: shown, changed value by value.
#include "service/sheets.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "service/job/job.h"
#include "service/sheet_text.h"
#include "service/worth_now.h"

namespace fuelwright::service {
namespace {

bool is_typical(const car::Line& l) { return l.source == car::Source::typical; }

const car::Line* find(const std::vector<car::Line>& lines, const car::Line& like) {
  const auto it = std::ranges::find_if(
      lines, [&](const car::Line& l) { return l.section == like.section && l.key == like.key; });
  return it == lines.end() ? nullptr : &*it;
}

bool same(const car::Line& a, const car::Line& b) {
  return a.value == b.value && a.tolerance == b.tolerance && a.source == b.source &&
         a.reason == b.reason && a.si == b.si && a.tolerance_si == b.tolerance_si;
}

Result<std::int64_t> head_of(const Job& job) {
  FW_TRY(const std::vector<JournalRow> rows, job.journal());
  return rows.empty() ? 0 : rows.back().id;
}

Status nobody_changed_it(const Job& job, std::int64_t seen) {
  FW_TRY(const std::vector<JournalRow> rows, job.journal());
  for (const JournalRow& row : rows) {
    if (row.id <= seen || row.command != "sheet") continue;
    return Error{ErrorCode::conflict, job.path(),
                 fmt::format("{} changed the sheet meanwhile ({}); look again", row.who, row.when)};
  }
  return Done{};
}

void list_changes(const std::vector<car::Line>& before, ChangeSheetReply& reply) {
  for (const car::Line& line : reply.lines) {
    const car::Line* was = find(before, line);
    if (was && same(*was, line)) continue;
    reply.changed.push_back(line);
    if (was) reply.was.push_back(*was);
  }
}

std::string sentence_of(const ChangeSheetReply& r, const std::set<std::string>& asked) {
  if (r.changed.empty()) return "Nothing on the sheet changes.";
  std::string said;
  int others = 0;
  for (const car::Line& l : r.changed) {
    if (!asked.contains(l.section + "." + l.key)) {
      ++others;
      continue;
    }
    said +=
        fmt::format("{}{}: {}{} ({})", said.empty() ? "" : "; ", l.about, l.value,
                    l.tolerance.empty() ? "" : " \xC2\xB1 " + l.tolerance, car::name_of(l.source));
  }
  if (said.empty()) {
    return fmt::format("{} value{} of the sheet change{}.", others, others == 1 ? "" : "s",
                       others == 1 ? "s" : "");
  }
  if (others == 0) return said + ".";
  return said + fmt::format("; {} that follow{} from it.",
                            others == 1 ? "one value" : fmt::format("{} values", others),
                            others == 1 ? "s" : "");
}

}  // namespace

Result<std::int64_t> journal_head(const std::string& path) {
  FW_TRY(const Job job, Job::open(path, Access::read));
  return head_of(job);
}

Result<SheetReply> sheet(const std::string& path) {
  FW_TRY(const Job job, Job::open(path, Access::read));
  SheetReply reply;
  FW_TRY(reply.units, job.units());
  FW_TRY(reply.toml, job.sheet_toml());
  FW_TRY(const car::Sheet sheet, car::read_sheet(reply.toml, path + ": sheet"));
  reply.lines = car::describe(sheet, reply.units);
  reply.typical = static_cast<int>(std::ranges::count_if(reply.lines, is_typical));
  reply.given = static_cast<int>(reply.lines.size()) - reply.typical;
  FW_TRY(reply.head, head_of(job));
  FW_TRY(WorthNow worth, worth_now(job, sheet));
  reply.worth = std::move(worth.worth);
  reply.worth_of = worth.of;
  reply.worth_says = std::move(worth.says);
  reply.sentence = fmt::format(
      "{} values of this engine are known, {} are filled from the spread of such engines.",
      reply.given, reply.typical);
  if (!reply.worth.empty()) {
    const auto best = std::ranges::max_element(
        reply.worth, {}, [](const physics::Worth& w) { return w.before - w.after; });
    reply.sentence += " Worth most to measure next is " + best->says() + ".";
  }
  return reply;
}

Result<ChangeSheetReply> change_sheet(const ChangeSheetRequest& request) {
  FW_TRY(Job job, Job::open(request.job, request.dry_run ? Access::read : Access::write));
  if (request.seen) FW_CHECK(nobody_changed_it(job, *request.seen));
  ChangeSheetReply reply;
  FW_TRY(reply.units, job.units());
  FW_TRY(const std::string old, job.sheet_toml());
  FW_TRY(const car::Sheet before, car::read_sheet(old, request.job + ": sheet"));
  std::string text;
  std::set<std::string> asked;
  if (request.toml) {
    text = *request.toml;
  } else {
    text = car::write_sheet(before);
    for (const ValueChange& change : request.changes) {
      FW_CHECK(put_value(text, change));
      asked.insert(change.section + "." + change.key);
    }
  }
  const auto after = car::read_sheet(text, "sheet");
  if (!after) {
    Error e = after.error();  // lines of a text that nobody saw say nothing
    if (!request.toml) e.where = place_without_line(e.where);
    return e;
  }
  reply.lines = car::describe(*after, reply.units);
  list_changes(car::describe(before, reply.units), reply);
  reply.sentence = sentence_of(reply, asked);
  if (!request.dry_run && text != old && (request.toml || !(*after == before))) {
    FW_CHECK(keep_for_worth(job, old, {request.who, request.when, ""}));
    FW_CHECK(job.set_sheet(
        text, {request.who, request.when, request.why.empty() ? reply.sentence : request.why}));
    reply.written = true;
  }
  FW_TRY(reply.head, head_of(job));
  return reply;
}

}  // namespace fuelwright::service
