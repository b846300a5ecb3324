#include "service/report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::service {
namespace {

constexpr const char* kPlusMinus = "\xC2\xB1";

const char* mark_of(car::NodeMark mark) {
  switch (mark) {
    case car::NodeMark::measured:
      return "\xE2\x97\x8F";  // disc
    case car::NodeMark::inferred:
      return "\xE2\x97\x8B";  // ring
    case car::NodeMark::prior_only:
      return "\xC3\x97";  // cross
  }
  broken_contract("a node mark", __FILE__, __LINE__);
}

std::string axis_title(const car::Axis& axis, UnitSystem units) {
  if (axis.kind() == car::AxisKind::throttle) return "throttle %";
  return std::string(axis.kind() == car::AxisKind::vacuum ? "vacuum " : "MAP ") +
         display_unit(car::number_kind(axis.kind()), units).symbol;
}

std::string axis_number(const car::Axis& axis, std::size_t i, UnitSystem units) {
  if (axis.kind() == car::AxisKind::throttle) return fmt::format("{:.0f}", 100 * axis[i]);
  const UnitInfo unit = display_unit(car::number_kind(axis.kind()), units);
  const double v = (axis[i] - unit.offset) / unit.factor;
  return std::abs(v - std::round(v)) < 0.05 ? fmt::format("{:.0f}", v) : fmt::format("{:.1f}", v);
}

// Iterates rows with high load first.
template <class F>
void from_high_load(const car::Grid& grid, F f) {
  const bool vacuum = grid.y.kind() == car::AxisKind::vacuum;
  for (std::size_t k = 0; k < grid.y.size(); ++k) f(vacuum ? k : grid.y.size() - 1 - k);
}

// Columns are as wide as their longest cell.
template <class Cell>
std::string grid_text(const car::Grid& grid, UnitSystem units, Cell cell) {
  int width = 4;
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      const std::string c = cell(ix, iy);
      const auto shown =
          std::count_if(c.begin(), c.end(), [](char b) { return (b & 0xC0) != 0x80; });
      width = std::max(width, static_cast<int>(shown));
    }
  }
  ++width;
  std::string out = fmt::format("{:>11} ", axis_title(grid.y, units));
  for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
    out += fmt::format("{:>{}}", axis_number(grid.x, ix, units), width);
  }
  out += "  rpm\n";
  from_high_load(grid, [&](std::size_t iy) {
    out += fmt::format("{:>11} ", axis_number(grid.y, iy, units));
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      out += fmt::format("{:>{}}", cell(ix, iy), width);
    }
    out += "\n";
  });
  return out;
}

std::string span(double seconds, bool timed) {
  if (!timed) return fmt::format("{:.0f} rows", seconds);
  return seconds < 120 ? fmt::format("{:.0f} s", seconds) : fmt::format("{:.1f} min", seconds / 60);
}

std::string recording_text(const UsedRecording& u) {
  std::string out = fmt::format("  {} {}: ", u.id, u.name);
  if (!u.left_out.empty()) return out + "not used: " + u.left_out + "\n";
  out += fmt::format("{}; {} of {} used\n", u.how, span(u.seconds_used, u.timed),
                     span(u.seconds_total, u.timed));
  for (const advice::SetAside& a : u.set_aside) {
    out += fmt::format("      set aside {:>9}: {}\n", span(a.seconds, u.timed), a.reason);
  }
  for (const std::string& note : u.notes) out += "      note: " + note + "\n";
  return out;
}

}  // namespace

std::string chart_text(const car::Evidence& e, UnitSystem units) {
  std::string out =
      fmt::format("{} measured   {} inferred   {} guess\n\n", mark_of(car::NodeMark::measured),
                  mark_of(car::NodeMark::inferred), mark_of(car::NodeMark::prior_only));
  out += grid_text(e.grid, units, [&](std::size_t ix, std::size_t iy) {
    return std::string(mark_of(e.mark[e.grid.index(ix, iy)]));
  });
  out += fmt::format("\n{} in %, and how far it may be off ({}, 95 %):\n\n",
                     e.what == car::TableWhat::ve ? "VE" : "Factor on the unit's fuel", kPlusMinus);
  out += grid_text(e.grid, units, [&](std::size_t ix, std::size_t iy) {
    const std::size_t i = e.grid.index(ix, iy);
    return fmt::format("{:.0f}{}{:.0f}", 100 * e.estimate[i], kPlusMinus,
                       std::min(99.0, std::ceil(100 * e.half_width(i) - 0.5)));
  });
  return out;
}

std::string text(const NewReply& r) {
  std::string out = r.sentence + "\n\n";
  out += fmt::format("Start: {}.\n", r.start);
  out +=
      "Say more with a fuller sheet; see every value with: fuelwright show " + r.job + " sheet\n";
  return out;
}

std::string text(const AddReply& r) {
  std::string out = r.sentence + "\n\n";
  out += fmt::format("Time: {}\n", r.pace);
  if (!r.simultaneity.empty()) out += fmt::format("Rows: {}\n", r.simultaneity);
  out += "Channels:\n";
  for (const signals::Guess& g : r.columns) {
    out += fmt::format("  {:28} {:24} {:10} {:3.0f} %  {}\n", g.header.substr(0, 28),
                       signals::info(g.what).label, g.unit, 100 * g.confidence, g.reason);
  }
  if (!r.gears.gears.empty()) {
    out += "Gears (rpm per km/h):";
    for (const signals::Gear& g : r.gears.gears) out += fmt::format(" {:.1f}", g.rpm_per_kmh);
    out += "\n";
  } else if (!r.gears.reason.empty()) {
    out += "Gears: " + r.gears.reason + "\n";
  }
  for (const std::string& w : r.teaches) out += "Can teach by: " + w + "\n";
  for (const std::string& w : r.warnings) out += "Warning: " + w + "\n";
  return out;
}

std::string text(const EstimateReply& r) {
  std::string out = r.sentence + "\n" + r.not_known + "\n";
  for (const std::string& w : r.warnings) out += "Warning: " + w + ".\n";
  out += "\nRecordings:\n";
  for (const UsedRecording& u : r.recordings) out += recording_text(u);
  out += "\n";
  if (r.evidence) out += chart_text(*r.evidence, r.units) + "\n";
  out += fmt::format("Nodes: {} measured, {} inferred, {} guesses.\n", r.measured, r.inferred,
                     r.prior_only);
  out += fmt::format(
      "Readings repeat each other {:.1f} times; their noise is {:.1f} times what was "
      "expected.\n",
      r.repetition, r.noise_scale);
  if (r.proposal) {
    out += fmt::format("Proposal {} for revision {}: {}.\n", *r.proposal, r.parent, r.reason);
    out +=
        "Accept it, load the table and clear the unit's own corrections; full throttle, idle and "
        "cranking "
        "that were not driven are guesses: do not lean on them.\n";
  }
  return out;
}

std::string text(const AcceptReply& r) { return r.sentence + "\n"; }

namespace {

std::string sheet_text(const std::vector<car::Line>& lines) {
  std::string out;
  std::string section;
  for (const car::Line& l : lines) {
    if (l.section != section) {
      section = l.section;
      out += "\n[" + section + "]\n";
    }
    const std::string value =
        l.tolerance.empty() ? l.value : l.value + " " + kPlusMinus + " " + l.tolerance;
    out += fmt::format("  {:34} {:34} {:9} {}\n", l.about, value, car::name_of(l.source), l.reason);
  }
  return out;
}

std::string journal_text(const std::vector<JournalRow>& rows) {
  std::string out;
  for (const JournalRow& j : rows) {
    out += fmt::format("  {:>4}  {}  {:12} {:9} {}\n", j.id, j.when, j.who, j.command, j.why);
  }
  return out;
}

std::string recordings_text(const std::vector<RecordingRow>& rows) {
  std::string out;
  for (const RecordingRow& r : rows) {
    out += fmt::format("  {:>3}  {:32} {:>9} rows  {:>9} bytes  sha256 {}  added {} by {}\n",
                       r.id.value, r.name, r.reading.rows, r.bytes, r.sha256.substr(0, 12),
                       r.added_when, r.added_by);
  }
  return rows.empty() ? "  none\n" : out;
}

std::string revisions_text(const std::vector<RevisionRow>& rows) {
  std::string out;
  for (const RevisionRow& r : rows) {
    out += fmt::format("  {:>3}{} {}  {:12} {}\n", r.number, r.in_force ? " in force" : "         ",
                       r.when, r.author, r.reason);
  }
  return out;
}

}  // namespace

std::string text(const ShowReply& r) {
  std::string out = r.sentence + "\n";
  const bool all = r.what == ShowWhat::summary;
  if (r.what == ShowWhat::sheet) out += sheet_text(r.sheet);
  if (all || r.what == ShowWhat::recordings)
    out += "\nRecordings:\n" + recordings_text(r.recordings);
  if (all || r.what == ShowWhat::revisions) out += "\nRevisions:\n" + revisions_text(r.revisions);
  if (r.what == ShowWhat::evidence) {
    out += r.evidence ? "\n" + chart_text(*r.evidence, r.units)
                      : "\nNothing is known from driving yet.\n";
  }
  if (r.what == ShowWhat::journal) out += "\n" + journal_text(r.journal);
  return out;
}

}  // namespace fuelwright::service
