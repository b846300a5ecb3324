#include "service/report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "service/report/grid.h"
#include "service/report/lists.h"
#include "service/report/words.h"

namespace fuelwright::service {
namespace {

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
  if (!r.kept_answers.empty()) {
    out += fmt::format("Answers kept from an earlier file with these columns were used: {}\n",
                       r.kept_answers);
  }
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
  if (!r.learned.empty()) out += fmt::format("Learned by the unit: {}\n", r.learned);
  for (const std::string& w : r.teaches) out += "Can teach by: " + w + "\n";
  for (const std::string& w : r.warnings) out += "Warning: " + w + "\n";
  return out;
}

std::string text(const AcceptReply& r) { return r.sentence + "\n"; }

std::string text(const ArchiveReply& r) {
  std::string out = r.sentence + "\n";
  for (const ArchivedRecording& a : r.recordings) {
    out += fmt::format("  {:>3}  {}: {} rows, {} {}, {:.1f} MB in {}\n", a.id, a.name, a.rows,
                       a.date_driven ? "driven on" : "added on", a.date,
                       static_cast<double>(a.bytes) / 1e6, a.path);
  }
  return out;
}

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
  if (r.what == ShowWhat::calibration)
    out += calibration_text(r.revision_in_force.calibration, r.units);
  if (r.what == ShowWhat::journal) out += "\n" + journal_text(r.journal);
  return out;
}

}  // namespace fuelwright::service
