// Sensor checks and guard firings as a person reads them.
#include <fmt/format.h>

#include <algorithm>

#include "service/report/text.h"
#include "service/report/words.h"

namespace fuelwright::service {
namespace {

using advice::Finding;
using advice::Firing;
using advice::Grade;

constexpr std::size_t kMostFirings = 8;

std::string sure_text(const advice::Evidence& e) {
  if (e.sd <= 0) return "counted";
  return fmt::format("chance {:.0f} %; a sound car shows as much in {:.2g} of recordings",
                     100 * e.chance, e.false_alarm);
}

std::string finding_text(const Finding& f, bool timed) {
  const auto& words = advice::words_of(f.check);
  std::string out = fmt::format("  {:5}  {}: {}", advice::name_of(f.grade), words.label, f.seen);
  if (f.bank > 1) out += fmt::format(" (bank {})", f.bank);
  out += "\n";
  if (f.grade == Grade::fine) return out;
  std::string where;
  if (timed && f.from.si > 0) where += fmt::format("from {:.0f} s; ", f.from.si);
  if (timed && f.seconds.si >= 0.5) where += span(f.seconds.si, timed) + "; ";
  if (f.count > 0) where += fmt::format("counted {}; ", f.count);
  out += fmt::format("         {}{}.\n         Why it matters: {}\n         Do: {}\n", where,
                     sure_text(f.evidence), f.why, f.what_to_do);
  return out;
}

std::string findings_text(const CheckedRecording& r) {
  std::string out;
  for (const Finding& f : r.findings) out += finding_text(f, r.timed);
  return out;
}

std::string firings_text(const CheckedRecording& r, UnitSystem units) {
  std::string out;
  const auto& firings = r.guard.firings;
  for (std::size_t i = 0; i < firings.size() && i < kMostFirings; ++i) {
    out += "  guard  " + advice::in_words(firings[i], units) + "\n";
  }
  if (firings.size() > kMostFirings) {
    out += fmt::format("  guard  and {} more; all of them with --json\n",
                       firings.size() - kMostFirings);
  }
  return out;
}

std::string not_checked_text(const CheckedRecording& r) {
  std::string out;
  // One line a reason, with all the checks it stands in the way of.
  std::vector<std::pair<std::string, std::string>> lines;
  for (const advice::NotChecked& n : r.not_checked) {
    const char* label = advice::words_of(n.check).label;
    const auto same =
        std::ranges::find(lines, n.because, &std::pair<std::string, std::string>::first);
    if (same == lines.end()) {
      lines.emplace_back(n.because, label);
    } else if (same->second.find(label) == std::string::npos) {
      same->second += std::string("; ") + label;
    }
  }
  if (!lines.empty()) out += "  Could not be checked:\n";
  for (const auto& [because, labels] : lines) {
    out += fmt::format("    {}: {}\n", because, labels);
  }
  if (r.key_on || r.guard.not_watched.empty()) return out;
  out += "  Not watched by the guard:\n";
  for (const std::string& line : r.guard.not_watched) out += "    " + line + "\n";
  return out;
}

std::string masked_text(const CheckedRecording& r) {
  std::string out;
  for (const advice::MaskedShare& m : r.masked) {
    const std::string line = fmt::format("    {:>9}  {}\n", span(m.seconds.si, r.timed), m.why);
    if (out.find(line) == std::string::npos) out += line;  // one reason may blank several sensors
  }
  return out.empty() ? out : "  Not learned from:\n" + out;
}

std::string recording_text(const CheckedRecording& r, UnitSystem units) {
  std::string out =
      fmt::format("\n{}, {}{}:\n",
                  r.id == 0 ? r.name + " (not in the job)" : fmt::format("{} {}", r.id, r.name),
                  span(r.seconds, r.timed), r.key_on ? ", key on, engine off" : "");
  if (r.refused) out += "  Refused: nothing of it can be learned from: " + *r.refused + ".\n";
  return out + findings_text(r) + firings_text(r, units) + not_checked_text(r) + masked_text(r);
}

std::string rule_text(const advice::Rule& rule, UnitSystem units) {
  const advice::RuleWords& w = advice::words_of(rule.kind);
  std::string out = fmt::format("  {:30}", w.label);
  if (!rule.on) return out + "switched off\n";
  if (w.bounded) {
    out += fmt::format("{} {}", w.below ? "under" : "over", shown(rule.kind, rule.limit, units));
  } else {
    out += "when it happens";
  }
  if (w.conditional) {
    out += fmt::format(", {} {}", rule.kind == advice::RuleKind::oil_pressure ? "up to" : "above",
                       shown_condition(rule, units));
  }
  return out + fmt::format(", for {:.2g} s\n", rule.dwell.si);
}

}  // namespace

std::string text(const CheckReply& r) {
  std::string out = r.sentence + "\n";
  for (const CheckedRecording& one : r.recordings) out += recording_text(one, r.units);
  out += fmt::format("\nRules of the guard ({}):\n",
                     r.own_rules ? "kept in the job" : "safe defaults, common practice");
  for (const advice::Rule& rule : r.rules.list) out += rule_text(rule, r.units);
  return out;
}

}  // namespace fuelwright::service
