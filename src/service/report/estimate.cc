// An estimate as a person reads it.
#include <fmt/format.h>

#include "service/report/text.h"
#include "service/report/words.h"

namespace fuelwright::service {
namespace {

std::string recording_text(const UsedRecording& u) {
  std::string out = fmt::format("  {} {}", u.id, u.name);
  if (u.driven_with) out += fmt::format(", driven with revision {}", *u.driven_with);
  out += ": ";
  if (!u.left_out.empty()) return out + "not used: " + u.left_out + "\n";
  out += fmt::format("{}; {} of {} used\n", u.how, span(u.seconds_used, u.timed),
                     span(u.seconds_total, u.timed));
  for (const advice::SetAside& a : u.set_aside) {
    out += fmt::format("      set aside {:>9}: {}\n", span(a.seconds, u.timed), a.reason);
  }
  for (const std::string& note : u.notes) out += "      note: " + note + "\n";
  return out;
}

std::string dynamics_text(const DynamicsFound& d) {
  std::string out;
  if (!d.sentence.empty()) out += "\nDynamics found: " + d.sentence + "\n";
  out += fmt::format("{} rows were set aside because fuel or mixture moved too fast.\n",
                     d.rows_set_aside);
  for (const std::string& note : d.notes) out += "Note: " + note + ".\n";
  return out;
}

void add_lines(std::string& out, const char* heading, const std::vector<std::string>& lines) {
  if (lines.empty()) return;
  out += std::string("\n") + heading + "\n";
  for (const std::string& line : lines) out += "  " + line + "\n";
}

}  // namespace

std::string text(const EstimateReply& r) {
  std::string out = r.sentence + "\n" + r.not_known + "\n";
  for (const std::string& w : r.warnings) out += "Warning: " + w + ".\n";
  if (!r.family.empty()) out += r.family + "\n";
  out += "\nWhat was used:\n";
  for (const UsedRecording& u : r.recordings) out += recording_text(u);
  if (!r.prior.empty()) out += "  Believed before driving: " + r.prior + "\n";
  if (r.dynamics) out += dynamics_text(*r.dynamics);
  out += "\n";
  if (r.evidence) out += chart_text(*r.evidence, r.units) + "\n";
  out += fmt::format("Nodes: {} measured, {} inferred, {} guesses.\n", r.measured, r.inferred,
                     r.prior_only);
  out += fmt::format(
      "Neighbouring readings say the same {:.1f} times over and count once; they scatter {:.1f} "
      "times as much as expected.\n",
      r.repetition, r.noise_scale);
  if (r.stopping) out += r.stopping->sentence() + "\n";
  if (r.proposal) {
    add_lines(out, fmt::format("Proposal {} for revision {}:", *r.proposal, r.parent).c_str(),
              r.change_words);
    add_lines(out, "Where it was not driven yet, with the proposed table:", r.outlook_words);
  }
  if (r.proposal) {
    out +=
        "\nAccept it, load the table and clear the unit's own corrections before the next drive.\n";
  }
  return out;
}

}  // namespace fuelwright::service
