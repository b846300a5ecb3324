#include "base/units/number.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <numbers>

#include "base/units/points.h"
#include "base/units/quantity.h"

namespace fuelwright {
namespace {

constexpr double kDeg = std::numbers::pi / 180.0;

struct Row {
  const char* symbol;   // as displayed
  const char* spelled;  // other spellings, separated by '|'
  Kind kind;
  double factor;
  double offset = 0;
};

// The first row of a kind is its commonest unit. Factors: SI brochure and NIST SP 811, appendix B
// (from memory; the exact ones are the international inch, pound and gallon).
constexpr double kGallon = 3.785411784e-3;
constexpr double kFahrenheitOffset = kZeroCelsius_K - 32.0 / 1.8;
constexpr auto kUnits = std::to_array<Row>({
    {"", "-|:1|x", Kind::ratio, 1.0},
    {"%", "percent|pct|per cent", Kind::ratio, 0.01},
    {"", "-", Kind::count, 1.0},
    {"mm", "millimeter|millimetre", Kind::length, 1e-3},
    {"in", "\"|inch|inches|in.", Kind::length, inch.factor},
    {"cm", "", Kind::length, 1e-2},
    {"m", "metre|meter", Kind::length, 1.0},
    {"km", "", Kind::length, 1e3},
    {"ft", "feet|foot", Kind::length, foot.factor},
    {"mi", "mile|miles", Kind::length, mile.factor},
    {"mm2", "mm\xC2\xB2|sq mm|mm^2", Kind::area, 1e-6},
    {"cm2", "cm\xC2\xB2|sq cm|cm^2", Kind::area, 1e-4},
    {"m2", "m\xC2\xB2|sq m|m^2", Kind::area, 1.0},
    {"sq in", "in2|in^2|in\xC2\xB2", Kind::area, 6.4516e-4},
    {"sq ft", "ft2|ft^2|ft\xC2\xB2", Kind::area, 0.09290304},
    {"l", "L|litre|liter|litres|liters|ltr", Kind::volume, 1e-3},
    {"cm3", "cc|ccm|cm\xC2\xB3|cm^3", Kind::volume, 1e-6},
    {"cu in", "ci|cid|in3|in^3|in\xC2\xB3|cubic inch|cubic inches", Kind::volume,
     cubic_inch.factor},
    {"m3", "m\xC2\xB3|m^3", Kind::volume, 1.0},
    {"gal", "gallon|gallons|US gal", Kind::volume, kGallon},
    {"kg", "kilogram|kilograms", Kind::mass, 1.0},
    {"lb", "lbs|pound|pounds", Kind::mass, pound.factor},
    {"g", "gram|grams", Kind::mass, 1e-3},
    {"mg", "", Kind::mass, 1e-6},
    {"t", "tonne", Kind::mass, 1e3},
    {"s", "sec|secs|second|seconds", Kind::time, 1.0},
    {"ms", "msec|millisecond|milliseconds", Kind::time, 1e-3},
    {"us", "\xC2\xB5s|\xCE\xBCs|usec|microsecond|microseconds", Kind::time, 1e-6},
    {"min", "minute|minutes", Kind::time, 60.0},
    {"h", "hr|hour|hours", Kind::time, 3600.0},
    {"kPa", "kPa abs|kPa absolute|kPa(a)|kPaA|kilopascal", Kind::absolute_pressure, 1e3},
    {"bar", "bar abs|bar absolute|bara|bar(a)", Kind::absolute_pressure, 1e5},
    {"psi absolute", "psi abs|psia|psi(a)|psi", Kind::absolute_pressure, psi.factor},
    {"hPa", "mbar|hPa abs|mbar abs|millibar", Kind::absolute_pressure, 100.0},
    {"Pa", "Pa abs|pascal", Kind::absolute_pressure, 1.0},
    {"inHg", "inHg abs|in Hg|inHg absolute|in.Hg|\"Hg", Kind::absolute_pressure, inHg.factor},
    {"mmHg", "torr|mmHg abs|mm Hg", Kind::absolute_pressure, 133.322387415},
    {"kPa gauge", "kPag|kPa(g)|kPa ga|kPa", Kind::gauge_pressure, 1e3},
    {"bar gauge", "barg|bar(g)|bar ga|bar", Kind::gauge_pressure, 1e5},
    {"psi gauge", "psig|psi(g)|psi ga|psi", Kind::gauge_pressure, psi.factor},
    {"inHg gauge", "inHg", Kind::gauge_pressure, inHg.factor},
    {"mbar gauge", "mbar|hPa", Kind::gauge_pressure, 100.0},
    {"kPa", "", Kind::pressure_step, 1e3},
    {"bar", "", Kind::pressure_step, 1e5},
    {"psi", "psid", Kind::pressure_step, psi.factor},
    {"hPa", "mbar", Kind::pressure_step, 100.0},
    {"Pa", "", Kind::pressure_step, 1.0},
    {"inHg", "in Hg|in.Hg|\"Hg", Kind::pressure_step, inHg.factor},
    {"inH2O", "in H2O|\"H2O|in of water|inches of water|inwg", Kind::pressure_step, 249.08891},
    {"mmHg", "torr|mm Hg", Kind::pressure_step, 133.322387415},
    {"degC",
     "C|\xC2\xB0"
     "C|\xE2\x84\x83|deg C|celsius|Celsius",
     Kind::temperature, 1.0, kZeroCelsius_K},
    {"degF",
     "F|\xC2\xB0"
     "F|deg F|fahrenheit|Fahrenheit",
     Kind::temperature, 1.0 / 1.8, kFahrenheitOffset},
    {"K", "kelvin|Kelvin", Kind::temperature, 1.0},
    {"K",
     "degC|C|\xC2\xB0"
     "C|deg C|kelvin",
     Kind::temperature_step, 1.0},
    {"degF",
     "F|\xC2\xB0"
     "F|deg F",
     Kind::temperature_step, 1.0 / 1.8},
    {"deg",
     "\xC2\xB0|degree|degrees|degCA|deg CA|\xC2\xB0"
     "CA|deg crank|CAD|deg BTDC|\xC2\xB0"
     "BTDC|degBTDC",
     Kind::crank_angle, kDeg},
    {"rad", "", Kind::crank_angle, 1.0},
    {"deg", "\xC2\xB0|degree|degrees", Kind::angle, kDeg},
    {"rad", "", Kind::angle, 1.0},
    {"km/h", "kph|kmh|kmph|km/hr", Kind::speed, 1.0 / 3.6},
    {"mph", "mi/h", Kind::speed, mile_per_h.factor},
    {"m/s", "mps", Kind::speed, 1.0},
    {"kn", "knot|knots", Kind::speed, 1852.0 / 3600},
    {"rpm", "RPM|r/min|rev/min|1/min|min-1|U/min|tr/min", Kind::engine_speed, 1.0},
    {"g/s", "gps|grams/s|gram/s", Kind::mass_flow, 1e-3},
    {"lb/h", "lb/hr|lbs/hr|pph|lbs/h", Kind::mass_flow, lb_per_h.factor},
    {"kg/h", "kg/hr", Kind::mass_flow, 1.0 / 3600},
    {"lb/min", "lbs/min", Kind::mass_flow, 0.45359237 / 60},
    {"g/min", "", Kind::mass_flow, 1e-3 / 60},
    {"mg/s", "", Kind::mass_flow, 1e-6},
    {"kg/s", "", Kind::mass_flow, 1.0},
    {"cc/min", "cm3/min|ccm/min|ml/min|cm\xC2\xB3/min|cc", Kind::volume_flow, cm3_per_min.factor},
    {"l/h", "L/h|l/hr|lph|LPH|L/hr", Kind::volume_flow, litre_per_h.factor},
    {"gal/h", "gph|GPH|gal/hr", Kind::volume_flow, kGallon / 3600},
    {"l/min", "L/min|lpm", Kind::volume_flow, 1e-3 / 60},
    {"cfm", "ft3/min|CFM", Kind::volume_flow, 0.028316846592 / 60},
    {"kg/l", "kg/L|g/cc|g/cm3|g/ml", Kind::density, 1e3},
    {"kg/m3", "kg/m\xC2\xB3|g/l", Kind::density, 1.0},
    {"kW", "", Kind::power, 1e3},
    {"hp", "bhp|HP", Kind::power, horsepower.factor},
    {"PS", "ps|cv", Kind::power, 735.49875},
    {"W", "watt", Kind::power, 1.0},
    {"Nm", "N m|N*m|newton metre", Kind::torque, 1.0},
    {"lb ft", "lb-ft|ft lb|ft-lb|lbf ft|lbft|ftlb", Kind::torque, pound_foot.factor},
    {"V", "volt|volts", Kind::voltage, 1.0},
    {"mV", "", Kind::voltage, 1e-3},
    {"A", "amp|ampere|amps", Kind::current, 1.0},
    {"mA", "", Kind::current, 1e-3},
    {"AFR", "afr|A/F|:1", Kind::afr, 1.0},
    {"Hz", "hertz", Kind::frequency, 1.0},
});

std::string lower(std::string_view s) {
  std::string out(s);
  for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

std::string_view trim(std::string_view s) {
  const auto blank = [](char c) { return std::isspace(static_cast<unsigned char>(c)) != 0; };
  while (!s.empty() && blank(s.front())) s.remove_prefix(1);
  while (!s.empty() && blank(s.back())) s.remove_suffix(1);
  return s;
}

template <class F>
void each_spelling(const Row& row, F f) {
  f(std::string_view(row.symbol));
  std::string_view rest = row.spelled;
  while (!rest.empty()) {
    const auto bar_at = rest.find('|');
    f(rest.substr(0, bar_at));
    rest = bar_at == std::string_view::npos ? std::string_view{} : rest.substr(bar_at + 1);
  }
}

UnitInfo info(const Row& row) { return {row.symbol, row.kind, row.factor, row.offset}; }

std::vector<UnitInfo> find_where(std::string_view text, bool any_case) {
  std::vector<UnitInfo> out;
  for (const Row& row : kUnits) {
    bool hit = false;
    each_spelling(row, [&](std::string_view s) {
      hit = hit || s == text || (any_case && lower(s) == lower(text));
    });
    if (hit) out.push_back(info(row));
  }
  return out;
}

// Splits "4.030 in" into the number's text and the rest.
std::pair<std::string_view, std::string_view> split_number(std::string_view text) {
  std::size_t i = 0;
  if (i < text.size() && (text[i] == '+' || text[i] == '-')) ++i;
  const auto digit = [&](std::size_t k) {
    return k < text.size() && std::isdigit(static_cast<unsigned char>(text[k])) != 0;
  };
  while (digit(i) || (i < text.size() && (text[i] == '.' || text[i] == ',') &&
                      (digit(i + 1) || (i > 0 && digit(i - 1))))) {
    ++i;
  }
  if (i < text.size() && (text[i] == 'e' || text[i] == 'E')) {
    std::size_t k = i + 1;
    if (k < text.size() && (text[k] == '+' || text[k] == '-')) ++k;
    if (digit(k)) {
      while (digit(k)) ++k;
      i = k;
    }
  }
  return {text.substr(0, i), trim(text.substr(i))};
}

Result<double> read_value(std::string_view number, std::string_view whole) {
  std::string plain(number);
  if (const auto comma = plain.find(','); comma != std::string::npos) {
    if (plain.find('.') != std::string::npos || plain.find(',', comma + 1) != std::string::npos) {
      return Error{ErrorCode::bad_input, "",
                   fmt::format("\"{}\" has both marks; write it with one decimal point", whole)};
    }
    const bool could_be_thousands = plain.size() - comma - 1 == 3 && plain[0] != '0' && comma <= 3;
    if (could_be_thousands) {
      return Error{ErrorCode::needs_answer, "",
                   fmt::format("\"{}\" may be {} or {}; write it with a point or without the comma",
                               whole, plain.substr(0, comma) + plain.substr(comma + 1),
                               plain.substr(0, comma) + "." + plain.substr(comma + 1))};
    }
    plain[comma] = '.';
  }
  if (const auto value = parse_double(plain)) return *value;
  return Error{ErrorCode::bad_input, "", fmt::format("\"{}\" is not a number", whole)};
}

Error wrong_unit(std::string_view unit, Kind kind) {
  if (const auto others = find_units(unit); !others.empty()) {
    return {ErrorCode::out_of_range, "",
            fmt::format("\"{}\" measures {}; expected {} ({})", unit, describe(others[0].kind),
                        describe(kind), units_of(kind))};
  }
  std::vector<std::string> known;
  for (const Row& row : kUnits) {
    if (row.kind == kind) {
      each_spelling(row, [&](std::string_view s) { known.emplace_back(s); });
    }
  }
  std::string hint;
  if (const auto near = nearest(unit, known)) hint = fmt::format("; did you mean \"{}\"?", *near);
  return {ErrorCode::unknown_unit, "",
          fmt::format("unknown unit \"{}\" for {} (known: {}){}", unit, describe(kind),
                      units_of(kind), hint)};
}

// The unit of a number: the written one, or the bare unit, or none where none is needed.
Result<UnitInfo> unit_for(std::string_view written, Kind kind,
                          std::optional<std::string_view> bare) {
  if (!written.empty()) {
    if (auto unit = find_unit(written, kind)) return *unit;
    return wrong_unit(written, kind);
  }
  if (bare) {
    if (auto unit = find_unit(*bare, kind)) return *unit;
    return wrong_unit(*bare, kind);
  }
  if (auto unit = find_unit("", kind)) return *unit;
  return Error{ErrorCode::unknown_unit, "",
               fmt::format("needs a unit: {} in {}", describe(kind), units_of(kind))};
}

Result<double> read_tolerance(std::string_view text, Kind kind, const UnitInfo& value_unit,
                              double value_si) {
  const auto [number, unit_text] = split_number(text);
  FW_TRY(const double t, read_value(number, text));
  double tolerance = 0;
  if (unit_text == "%" && !(kind == Kind::ratio && value_unit.symbol == "%")) {
    tolerance = std::abs(value_si - value_unit.offset) * t / 100.0;
  } else {
    UnitInfo unit = value_unit;
    if (!unit_text.empty()) {
      // The tolerance of a point is a step: "90 degC +- 2 K".
      const Kind step_kind = kind == Kind::temperature ? Kind::temperature_step : kind;
      FW_TRY(unit, unit_for(unit_text, step_kind, std::nullopt));
    }
    tolerance = t * unit.factor;
  }
  if (!(tolerance >= 0)) {
    return Error{ErrorCode::out_of_range, "",
                 fmt::format("tolerance \"{}\" must not be negative", text)};
  }
  return tolerance;
}

// Where "+-" (or its one-character form) stands, and how long it is.
std::pair<std::size_t, std::size_t> plus_minus(std::string_view text) {
  for (const std::string_view mark : {"+-", "+/-", "\xC2\xB1"}) {
    if (const auto at = text.find(mark); at != std::string_view::npos) return {at, mark.size()};
  }
  return {std::string_view::npos, 0};
}

struct KindRow {
  Kind kind;
  const char* text;
  const char* metric;
  const char* us;
};
constexpr auto kKinds = std::to_array<KindRow>({
    {Kind::ratio, "a plain number", "", ""},
    {Kind::count, "a whole number", "", ""},
    {Kind::length, "a length", "mm", "in"},
    {Kind::area, "an area", "cm2", "sq in"},
    {Kind::volume, "a volume", "l", "cu in"},
    {Kind::mass, "a mass", "kg", "lb"},
    {Kind::time, "a time", "s", "s"},
    {Kind::absolute_pressure, "an absolute pressure", "kPa", "kPa"},
    {Kind::gauge_pressure, "a gauge pressure", "bar gauge", "psi gauge"},
    {Kind::pressure_step, "a pressure difference", "kPa", "inHg"},
    {Kind::temperature, "a temperature", "degC", "degF"},
    {Kind::temperature_step, "a temperature difference", "K", "degF"},
    {Kind::crank_angle, "a crank angle", "deg", "deg"},
    {Kind::speed, "a road speed", "km/h", "mph"},
    {Kind::engine_speed, "an engine speed", "rpm", "rpm"},
    {Kind::mass_flow, "a mass flow", "g/s", "lb/h"},
    {Kind::volume_flow, "a volume flow", "cc/min", "cc/min"},
    {Kind::density, "a density", "kg/l", "kg/l"},
    {Kind::power, "a power", "kW", "hp"},
    {Kind::torque, "a torque", "Nm", "lb ft"},
    {Kind::voltage, "a voltage", "V", "V"},
    {Kind::current, "a current", "A", "A"},
    {Kind::afr, "an air-fuel ratio", "AFR", "AFR"},
    {Kind::angle, "an angle", "deg", "deg"},
    {Kind::frequency, "a frequency", "Hz", "Hz"},
});

const KindRow& kind_row(Kind kind) {
  for (const KindRow& row : kKinds) {
    if (row.kind == kind) return row;
  }
  broken_contract("a kind of the table", __FILE__, __LINE__);
}

}  // namespace

const char* describe(Kind kind) { return kind_row(kind).text; }

std::string units_of(Kind kind) {
  std::string out;
  for (const Row& row : kUnits) {
    if (row.kind != kind || *row.symbol == '\0') continue;
    if (!out.empty()) out += ", ";
    out += row.symbol;
  }
  return out.empty() ? "no unit" : out;
}

std::optional<double> parse_double(std::string_view text) {
  text = trim(text);
  if (!text.empty() && text.front() == '+') text.remove_prefix(1);
  double value = 0;
  const auto [end, ec] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (ec != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value;
}

std::vector<UnitInfo> find_units(std::string_view text) {
  text = trim(text);
  if (text.empty()) return {};
  auto exact = find_where(text, false);
  return exact.empty() ? find_where(text, true) : exact;
}

std::optional<UnitInfo> find_unit(std::string_view text, Kind kind) {
  text = trim(text);
  for (const bool any_case : {false, true}) {
    for (const UnitInfo& unit : find_where(text, any_case)) {
      if (unit.kind == kind) return unit;
    }
  }
  return std::nullopt;
}

Result<Measured> parse_number(std::string_view text, Kind kind,
                              std::optional<std::string_view> bare_unit) {
  const std::string_view whole = trim(text);
  const auto [at, length] = plus_minus(whole);
  const std::string_view head = trim(whole.substr(0, at));
  auto [number, unit_text] = split_number(head);
  if (number.empty()) {
    return Error{ErrorCode::bad_input, "",
                 fmt::format("\"{}\" is not a number; expected {}", whole, describe(kind))};
  }
  std::string_view tail = at == std::string_view::npos ? "" : trim(whole.substr(at + length));
  if (unit_text.empty() && !bare_unit) {
    const auto [spread, of_both] = split_number(tail);  // "216 +- 2 deg": the unit of both
    if (of_both != "%" && !of_both.empty() && find_unit(of_both, kind)) {
      unit_text = of_both;
      tail = spread;
    }
  }
  FW_TRY(const double value, read_value(number, whole));
  FW_TRY(const UnitInfo unit, unit_for(unit_text, kind, bare_unit));
  Measured out{value * unit.factor + unit.offset, std::nullopt, std::string(unit_text)};
  if (kind == Kind::count && out.si != std::floor(out.si)) {
    return Error{ErrorCode::bad_input, "", fmt::format("\"{}\" is not a whole number", whole)};
  }
  if (at != std::string_view::npos) {
    FW_TRY(out.tolerance, read_tolerance(tail, kind, unit, out.si));
  }
  return out;
}

UnitInfo display_unit(Kind kind, UnitSystem system) {
  const KindRow& row = kind_row(kind);
  const auto unit = find_unit(system == UnitSystem::us ? row.us : row.metric, kind);
  EXPECTS(unit.has_value());
  return *unit;
}

std::string format(double si, Kind kind, UnitSystem system, int digits) {
  const UnitInfo unit = display_unit(kind, system);
  const double shown = (si - unit.offset) / unit.factor;
  const bool whole = kind == Kind::engine_speed || kind == Kind::count;
  std::string number = fmt::format("{:.0f}", shown);
  if (!whole && std::isfinite(shown)) {
    const int before =
        shown == 0 ? 1 : static_cast<int>(std::floor(std::log10(std::abs(shown)))) + 1;
    number = fmt::format("{:.{}f}", shown, std::max(0, digits - before));
  }
  return unit.symbol.empty() ? number : number + " " + unit.symbol;
}

std::optional<std::string> nearest(std::string_view word,
                                   const std::vector<std::string>& candidates) {
  const std::string w = lower(word);
  std::optional<std::string> best;
  std::size_t best_distance = std::max<std::size_t>(1, w.size() / 3) + 1;
  for (const std::string& candidate : candidates) {
    const std::string c = lower(candidate);
    std::vector<std::size_t> row(c.size() + 1);
    for (std::size_t j = 0; j <= c.size(); ++j) row[j] = j;
    for (std::size_t i = 1; i <= w.size(); ++i) {
      std::size_t diagonal = row[0];
      row[0] = i;
      for (std::size_t j = 1; j <= c.size(); ++j) {
        const std::size_t above = row[j];
        row[j] = std::min({row[j] + 1, row[j - 1] + 1, diagonal + (w[i - 1] == c[j - 1] ? 0 : 1)});
        diagonal = above;
      }
    }
    if (!c.empty() && row[c.size()] < best_distance) {
      best_distance = row[c.size()];
      best = candidate;
    }
  }
  return best;
}

}  // namespace fuelwright
