// The invented drive, and a file made from it.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <limits>

#include "base/contract.h"
#include "tests/corpus/corpus.h"

namespace fuelwright::corpus {

using Q = signals::Quantity;

namespace {

constexpr double kNoValue = std::numeric_limits<double>::quiet_NaN();

double at(Q what, double t) {
  const double push = 0.5 + 0.5 * std::sin(t / 3) * std::cos(t / 11);
  switch (what) {
    case Q::rpm:
      return 900 + 3500 * push;
    case Q::map:
      return 30e3 + 65e3 * push;
    case Q::throttle:
      return 0.04 + 0.8 * push;
    case Q::coolant:
      return 273.15 + 20 + 70 * (1 - std::exp(-t / 9));
    case Q::intake_air:
      return 273.15 + 24 + 4 * std::sin(t / 20);
    case Q::lambda:
      return 1 - 0.12 * push;
    case Q::pulse_width:
      return 2e-3 + 9e-3 * push;
    case Q::battery:
      return 13.8 + 0.3 * std::sin(t / 4);
    case Q::speed:
      return (900 + 3500 * push) / 40 / 3.6;
    default:
      return push;
  }
}

std::string join(const std::vector<std::string>& cells, char separator) {
  std::string out;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    if (i > 0) out += separator;
    out += separator == ' ' ? fmt::format("{:>24}", cells[i]) : cells[i];
  }
  return out;
}

std::string number(const Column& c, std::size_t row) {
  if (std::isnan(c.si[row])) return "";
  return fmt::format("{:.{}f}", (c.si[row] - c.offset) / c.factor, c.decimals);
}

}  // namespace

std::vector<double> driven(Q what) {
  std::vector<double> out;
  for (std::size_t i = 0; i < kRows; ++i) out.push_back(at(what, kStep_s * static_cast<double>(i)));
  return out;
}

Draft usual_draft() {
  Draft d;
  const auto add = [&](Q what, const char* header, const char* unit, double factor, double offset,
                       int decimals) {
    d.columns.push_back({what, header, unit, factor, offset, decimals, driven(what)});
  };
  add(Q::rpm, "RPM", "rpm", 1, 0, 0);
  add(Q::map, "MAP", "kPa", 1000, 0, 1);
  add(Q::throttle, "TPS", "%", 0.01, 0, 1);
  add(Q::coolant, "CLT", "degC", 1, 273.15, 1);
  add(Q::intake_air, "IAT", "degC", 1, 273.15, 1);
  add(Q::lambda, "Lambda", "lambda", 1, 0, 3);
  add(Q::pulse_width, "PW", "ms", 1e-3, 0, 3);
  add(Q::battery, "Battery", "V", 1, 0, 2);
  add(Q::speed, "Speed", "km/h", 1 / 3.6, 0, 1);
  for (std::size_t i = 0; i < kRows; ++i) {
    d.time_s.push_back(kStep_s * static_cast<double>(i));
    d.clock.push_back(fmt::format("{:.1f}", d.time_s.back()));
  }
  return d;
}

Column& column(Draft& draft, Q what) {
  const auto found = std::ranges::find(draft.columns, what, &Column::what);
  EXPECTS(found != draft.columns.end());
  return *found;
}

std::string Draft::header() const {
  std::vector<std::string> names;
  std::vector<std::string> units;
  const auto quote = [&](const std::string& s) { return style.quoted ? '"' + s + '"' : s; };
  if (!clock.empty()) {
    const bool row = style.units == Style::Units::row;
    names.push_back(quote(row ? "Time" : clock_header));
    units.emplace_back("s");
  }
  for (const Column& c : columns) {
    const bool bare = c.unit.empty();
    if (style.units == Style::Units::brackets && !bare) {
      names.push_back(quote(c.header + " (" + c.unit + ")"));
    } else if (style.units == Style::Units::square && !bare) {
      names.push_back(quote(c.header + " [" + c.unit + "]"));
    } else {
      names.push_back(quote(c.header));
    }
    units.push_back(quote(bare ? "-" : c.unit));
  }
  std::string out = join(names, style.separator) + style.row_tail + style.line_end;
  if (style.units == Style::Units::row) {
    out += join(units, style.separator) + style.row_tail + style.line_end;
  }
  return out;
}

std::string Draft::row(std::size_t i) const {
  std::vector<std::string> cells;
  if (!clock.empty()) cells.push_back(clock[i]);
  for (const Column& c : columns) {
    std::string text = number(c, i);
    if (text.empty()) {
      text = style.gap;
    } else if (style.units == Style::Units::cells) {
      text += c.unit;
    } else if (style.units == Style::Units::cells_apart) {
      text += " " + c.unit;
    }
    cells.push_back(std::move(text));
  }
  for (std::string& s : cells) {
    if (style.decimal_comma) std::ranges::replace(s, '.', ',');
    if (style.quoted) s = '"' + s + '"';
  }
  return join(cells, style.separator) + style.row_tail + style.line_end;
}

std::string Draft::rows(std::size_t first, std::size_t last) const {
  std::string out;
  for (std::size_t i = first; i < last; ++i) out += row(i);
  return out;
}

std::string Draft::text() const { return style.before + header() + rows(0, kRows); }

HonestFile Draft::file(const std::string& name) const {
  HonestFile out;
  out.name = name;
  out.bytes = text();
  out.time_s = time_s;
  if (clock.empty()) out.time_s.clear();
  for (const Column& c : columns) {
    Truth truth{c.what, c.bank, {}};
    for (std::size_t i = 0; i < kRows; ++i) {
      const std::string written = number(c, i);
      truth.si.push_back(
          written.empty() ? kNoValue : std::strtod(written.c_str(), nullptr) * c.factor + c.offset);
    }
    out.channels.push_back(std::move(truth));
  }
  return out;
}

std::vector<HonestFile> honest_files() {
  std::vector<HonestFile> out;
  for (auto* part : {honest_forms, honest_times, honest_names, honest_units}) {
    for (HonestFile& f : part()) out.push_back(std::move(f));
  }
  return out;
}

std::vector<DishonestFile> dishonest_files() {
  std::vector<DishonestFile> out;
  for (auto* part : {dishonest_bytes, dishonest_cells, dishonest_meanings}) {
    for (DishonestFile& f : part()) out.push_back(std::move(f));
  }
  return out;
}

}  // namespace fuelwright::corpus
