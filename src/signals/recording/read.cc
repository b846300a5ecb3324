#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "signals/channels/steadiness.h"
#include "signals/recording/internal/pace.h"
#include "signals/recording/internal/read_table.h"
#include "signals/recording/internal/recogniser.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals {
namespace {

Error needs_answers(const Report& report) {
  std::string all;
  for (const Question& q : report.questions) all += (all.empty() ? "" : "; ") + q.line();
  const std::size_t n = report.questions.size();
  return {ErrorCode::needs_answer, report.name,
          fmt::format("{} column{} an answer: {}", n, n == 1 ? " needs" : "s need", all)};
}

// Takes the values over and converts them in place.
Channel make_channel(Guess& guess, const std::optional<ColumnUnit>& unit,
                     std::vector<double>& values) {
  Channel c;
  c.what = guess.what;
  c.kind = info(guess.what).kind;
  c.header = std::move(guess.header);
  c.unit_found = std::move(guess.unit_found);
  c.unit = std::move(guess.unit);
  c.constant = guess.constant;
  c.bank = guess.bank;
  c.confidence = guess.confidence;
  c.reason = std::move(guess.reason);
  c.si = std::move(values);
  c.converted = unit.has_value();
  if (!unit) return c;
  c.scale = unit->scale;
  if (c.what == Quantity::other) {
    if (const auto known = find_units(c.unit); !known.empty()) c.kind = known.front().kind;
  }
  for (double& v : c.si) v = unit->si(v);
  return c;
}

}  // namespace

Result<ReadResult> read_with_report(std::string_view bytes, std::string_view name,
                                    const Answers& answers) {
  FW_TRY(CsvTable table, read_table(bytes, name, answers));
  FW_TRY(Recognised found, recognise_table(table, answers));
  if (!found.report.questions.empty()) return needs_answers(found.report);
  ReadResult out;
  out.report = found.report;
  Recording& r = out.recording;
  r.name = name;
  r.rows = table.rows;
  r.warnings = std::move(found.report.warnings);
  for (std::size_t i = 0; i < found.columns.size(); ++i) {
    r.channels.push_back(make_channel(found.report.columns[i], found.units[i],
                                      table.columns[found.columns[i]].value));
  }
  FW_CHECK(set_pace(r, table.breaks, answers));
  judge_simultaneity(r);
  return out;
}

Result<Recording> read_recording(std::string_view bytes, std::string_view name,
                                 const Answers& answers) {
  FW_TRY(ReadResult read, read_with_report(bytes, name, answers));
  return std::move(read.recording);
}

}  // namespace fuelwright::signals
