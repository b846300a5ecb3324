// Honest files of every outer form: separators, marks, quotes, gaps, lines around the table.
#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <utility>

#include "tests/corpus/corpus.h"

namespace fuelwright::corpus {
namespace {

using Q = signals::Quantity;
using Units = Style::Units;
constexpr double kGap = std::numeric_limits<double>::quiet_NaN();

Draft with(Style style) {
  Draft d = usual_draft();
  d.style = std::move(style);
  return d;
}

// The truth of the first rows only.
void keep_rows(HonestFile& f, std::size_t rows) {
  f.time_s.resize(rows);
  for (Truth& t : f.channels) t.si.resize(rows);
}

void separators(std::vector<HonestFile>& out) {
  out.push_back(with({}).file("comma.csv"));
  out.push_back(with({.separator = ';'}).file("semicolon.csv"));
  out.push_back(with({.separator = '\t'}).file("tab.txt"));
  out.push_back(with({.separator = '|'}).file("bar.txt"));
  out.push_back(with({.separator = ' '}).file("aligned.txt"));
  out.push_back(with({.separator = ';', .decimal_comma = true}).file("semicolon_comma.csv"));
  out.push_back(with({.separator = '\t', .decimal_comma = true}).file("tab_comma.txt"));
  out.push_back(with({.separator = ' ', .decimal_comma = true}).file("aligned_comma.txt"));
  out.push_back(with({.decimal_comma = true, .quoted = true}).file("quoted_comma.csv"));
  out.push_back(with({.quoted = true}).file("quoted.csv"));
  out.push_back(with({.separator = ';', .quoted = true}).file("quoted_semicolon.csv"));
}

void lines(std::vector<HonestFile>& out) {
  out.push_back(with({.line_end = "\r\n"}).file("crlf.csv"));
  out.push_back(with({.line_end = "\r"}).file("cr.csv"));
  out.push_back(with({.before = "\xEF\xBB\xBF"}).file("bom.csv"));
  out.push_back(with({.row_tail = ","}).file("trailing.csv"));
  out.push_back(
      with({.separator = ';', .line_end = "\r\n", .row_tail = ";"}).file("trailing2.csv"));
  out.push_back(with({.before = "Drive of Tuesday\n\nlogger 7\n"}).file("preamble.csv"));
  out.push_back(
      with({.before = "Logger,7\nDate,2026-05-04\nRate,10 Hz\n\n"}).file("preamble_pairs.csv"));
  out.push_back(
      with({.before = "Logger,7,,,,,,,,\nFirmware,1.2,,,,,,,,\n"}).file("preamble_wide.csv"));
  out.push_back(with({.line_end = "\n\n"}).file("blank_lines.csv"));
  HonestFile torn = with({}).file("torn.csv");
  torn.bytes.resize(torn.bytes.size() - 9);
  keep_rows(torn, kRows - 1);
  out.push_back(std::move(torn));
  HonestFile open = with({}).file("no_last_line_end.csv");
  open.bytes.pop_back();
  keep_rows(open, kRows - 1);
  out.push_back(std::move(open));
}

void units(std::vector<HonestFile>& out) {
  out.push_back(with({.units = Units::square}).file("square_brackets.csv"));
  out.push_back(with({.units = Units::row}).file("units_row.csv"));
  out.push_back(with({.separator = ';', .units = Units::row}).file("units_row_semicolon.csv"));
  out.push_back(with({.units = Units::cells}).file("units_in_cells.csv"));
  out.push_back(with({.separator = ';', .decimal_comma = true, .units = Units::cells_apart})
                    .file("units_in_cells_apart.csv"));
  Draft degree = with({.units = Units::cells_apart});
  column(degree, Q::coolant).unit =
      "\xC2\xB0"
      "C";
  column(degree, Q::intake_air).unit =
      "\xC2\xB0"
      "C";
  out.push_back(degree.file("degree_sign.csv"));
  Draft latin = with({});
  column(latin, Q::coolant).unit =
      "\xB0"
      "C";
  column(latin, Q::intake_air).unit =
      "\xB0"
      "C";
  out.push_back(latin.file("latin1.csv"));
  Draft words = with({});
  for (const auto& [what, name] : {std::pair{Q::coolant, "CLT_degC"},
                                   {Q::map, "MAP_kPa"},
                                   {Q::speed, "speed_kmh"},
                                   {Q::pulse_width, "pulse_width_ms"}}) {
    column(words, what).header = name;
    column(words, what).unit.clear();
  }
  out.push_back(words.file("units_in_names.csv"));
}

// A logger that asks one channel after another leaves the others blank.
void gaps(std::vector<HonestFile>& out) {
  for (const char* gap : {"", "-", "n/a", "NaN", "null"}) {
    Draft d = with({.gap = gap});
    for (std::size_t i = 0; i < kRows; ++i) {
      column(d, i % 2 == 0 ? Q::map : Q::rpm).si[i] = kGap;
      if (i % 5 != 0) column(d, Q::coolant).si[i] = kGap;
    }
    out.push_back(d.file(fmt::format("gap_{}.csv", out.size())));
  }
  Draft late = with({.units = Units::cells});
  for (std::size_t i = 0; i < 250; ++i) column(late, Q::battery).si[i] = kGap;
  out.push_back(late.file("late_channel.csv"));
}

void sessions(std::vector<HonestFile>& out) {
  const Draft d = with({});
  HonestFile again = d.file("header_again.csv");
  again.bytes = d.header() + d.rows(0, 150) + d.header() + d.rows(150, kRows);
  again.segments = 2;
  out.push_back(again);
  again.name = "sessions_with_preamble.csv";
  again.bytes = "Session 1\n" + d.header() + d.rows(0, 150) + "\nSession 2\nlogger 7\n" +
                d.header() + d.rows(150, kRows);
  out.push_back(again);
  again.name = "sessions_with_marks.csv";
  again.bytes = "\xEF\xBB\xBF" + d.header() + d.rows(0, 150) + "\xEF\xBB\xBF" + d.header() +
                d.rows(150, kRows);
  out.push_back(again);
  again.name = "torn_session.csv";
  again.bytes = d.header() + d.rows(0, 150) + "15.0,12\n" + d.header() + d.rows(150, kRows);
  out.push_back(again);
  const Draft rows = with({.units = Units::row});
  again.name = "sessions_with_units.csv";
  again.bytes = rows.header() + rows.rows(0, 150) + rows.header() + rows.rows(150, kRows);
  out.push_back(again);
}

void odd(std::vector<HonestFile>& out) {
  Draft quoted = with({.quoted = true});
  column(quoted, Q::map).header = "MAP, manifold";
  column(quoted, Q::rpm).header = "RPM\nengine";
  out.push_back(quoted.file("quoted_names.csv"));
  Draft wide = with({});
  for (int i = 0; i < 490; ++i) {
    wide.columns.push_back({Q::other, fmt::format("X{}", i), "", 1, 0, 2, driven(Q::other)});
  }
  HonestFile f = wide.file("500_columns.csv");
  f.channels.resize(9);
  out.push_back(std::move(f));
  Draft fine = with({});
  for (Column& c : fine.columns) c.decimals = 17;
  out.push_back(fine.file("many_digits.csv"));
  HonestFile words = with({}).file("words.csv");
  std::string text;
  for (std::size_t from = 0, line = 0; from < words.bytes.size(); ++line) {
    const auto end = words.bytes.find('\n', from);
    text += words.bytes.substr(from, end - from) +
            (line == 0 ? ",Note" : ",\"a note, of two\nlines\"") + "\n";
    from = end + 1;
  }
  words.bytes = text;
  out.push_back(std::move(words));
}

}  // namespace

std::vector<HonestFile> honest_forms() {
  std::vector<HonestFile> out;
  separators(out);
  lines(out);
  units(out);
  gaps(out);
  sessions(out);
  odd(out);
  return out;
}

}  // namespace fuelwright::corpus
