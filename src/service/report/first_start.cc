// The first-start list as it is read out and ticked off.
#include <fmt/format.h>

#include "service/report/text.h"

namespace fuelwright::service {
namespace {

std::string lines(const char* word, const std::vector<std::string>& list) {
  std::string out;
  for (const std::string& line : list) out += fmt::format("      {:<8} {}\n", word, line);
  return out;
}

std::string expected(const advice::Expected& e) {
  if (!e.known) return fmt::format("      {:<8} {}: {}\n", "?", e.what, e.says);
  return fmt::format("      {:<8} {}: {} [{}]\n", "Expect", e.what, e.says,
                     advice::name_of(e.from));
}

std::string step(const advice::StartStep& s) {
  std::string out = fmt::format("\n {:2}.  {}\n", s.number, s.title);
  out += lines("Caution", s.cautions);
  out += lines("Do", s.act);
  for (const advice::Expected& e : s.expect) out += expected(e);
  out += lines("If not", s.if_not);
  return out + lines("STOP", s.stop);
}

}  // namespace

std::string text(const StartQuestionsReply& r) {
  std::string out = r.sentence + "\n";
  for (const advice::StartQuestion& q : r.questions) {
    out += fmt::format("\n  {}: {}\n", q.id, q.text);
    for (const auto& o : q.options) {
      out += fmt::format("    {}{:<10} {}\n", o.give == q.answer ? "*" : " ", o.give, o.means);
    }
  }
  return out;
}

std::string text(const FirstStartReply& r) {
  std::string out = r.sentence + "\n";
  if (!r.not_known.empty()) out += r.not_known + "\n";
  out += "\nBefore anything:\n";
  for (const std::string& c : r.list.cautions) out += "  - " + c + "\n";
  out += "\nAnswered:\n";
  for (const advice::StartQuestion& q : r.questions) {
    out += fmt::format("  {} {}\n", q.text, q.answer);
  }
  for (const std::string& why : r.list.because) out += "  - " + why + "\n";
  std::optional<advice::StartPhase> phase;
  for (const advice::StartStep& s : r.list.steps) {
    if (phase != s.phase) out += fmt::format("\n== {} ==\n", advice::label_of(s.phase));
    phase = s.phase;
    out += step(s);
  }
  return out;
}

}  // namespace fuelwright::service
