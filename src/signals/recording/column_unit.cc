#include "signals/recording/internal/column_unit.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <cstdint>
#include <limits>

#include "base/units/number.h"

namespace fuelwright::signals {
namespace {

std::string lower(std::string_view s) {
  std::string out(s);
  std::ranges::transform(out, out.begin(), [](char c) {
    return static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  });
  return out;
}

bool is_mixture(Quantity q) {
  return q == Quantity::lambda || q == Quantity::target || q == Quantity::commanded_ratio;
}

bool is_correction(Quantity q) {
  return q == Quantity::correction || q == Quantity::short_trim || q == Quantity::long_trim ||
         q == Quantity::warm_up;
}

Result<ColumnUnit> mixture_unit(Quantity what, std::string_view text, const Answers& answers) {
  std::string wanted = lower(text);
  if (wanted.empty() || wanted == "\xCE\xBB" || wanted == "-") wanted = "lambda";
  if (wanted == ":1" || wanted == "a/f") wanted = "afr";
  if (wanted == "afr" && answers.afr_constant)
    wanted = fmt::format("afr {}", *answers.afr_constant);
  const auto scale = car::MixtureScale::parse(wanted);
  if (!scale) {
    Error e = scale.error();
    if (e.code != ErrorCode::needs_answer && e.code != ErrorCode::out_of_range) {
      e = {ErrorCode::unknown_unit, "",
           fmt::format("\"{}\" is no unit of {} (known: lambda, afr CONSTANT, equivalence)", text,
                       info(what).label)};
    }
    return e;
  }
  ColumnUnit unit{scale->text(), 1.0 / scale->constant()};  // (fuel.4)
  unit.reciprocal = scale->kind() == car::ScaleKind::equivalence;
  unit.scale = *scale;
  return unit;
}

// A correction as a relative change of fuel: +5 %, 105 % and a factor of 1.05 all say +0.05
// (recordings.5)
Result<ColumnUnit> correction_unit(Quantity what, std::string_view text) {
  const std::string wanted = lower(text);
  if (wanted == "% around 0" || wanted == "%") return ColumnUnit{"% around 0", 0.01};
  if (wanted == "% around 100") return ColumnUnit{"% around 100", 0.01, -1.0};
  if (wanted == "factor") return ColumnUnit{"factor", 1.0, -1.0};
  if (wanted == "fraction") return ColumnUnit{"fraction"};
  return Error{
      ErrorCode::unknown_unit, "",
      fmt::format("\"{}\" is no unit of {} (known: % around 0, % around 100, factor, fraction)",
                  text, info(what).label)};
}

Result<ColumnUnit> pressure_unit(Quantity what, std::string_view text, const Answers& answers) {
  const std::string wanted = lower(text);
  const bool vacuum = wanted.ends_with(" vacuum");
  const std::string_view base = vacuum ? text.substr(0, text.size() - 7) : text;
  const auto absolute_unit = vacuum ? std::nullopt : find_unit(text, Kind::absolute_pressure);
  if (absolute_unit) return ColumnUnit{absolute_unit->symbol, absolute_unit->factor};
  const auto gauge_unit = find_unit(base, Kind::gauge_pressure);
  if (!gauge_unit) {
    return Error{
        ErrorCode::unknown_unit, "",
        fmt::format("\"{}\" is no unit of {} (known: {}, kPa gauge, psi gauge, inHg vacuum)", text,
                    info(what).label, units_of(Kind::absolute_pressure))};
  }
  if (!answers.ambient) {
    return Error{ErrorCode::needs_answer, "",
                 fmt::format("\"{}\" counts from the ambient pressure; give --ambient, such as "
                             "--ambient \"101.3 kPa\"",
                             text)};
  }
  return ColumnUnit{std::string(text), vacuum ? -gauge_unit->factor : gauge_unit->factor,
                    answers.ambient->from_zero.si};
}

}  // namespace

Result<ColumnUnit> unit_of(Quantity what, std::string_view text, const Answers& answers) {
  if (is_mixture(what)) return mixture_unit(what, text, answers);
  if (is_correction(what)) return correction_unit(what, text);
  const QuantityInfo& q = info(what);
  if (q.kind == Kind::absolute_pressure) return pressure_unit(what, text, answers);
  if (q.kind == Kind::time && (text == kDayFirst || text == kMonthFirst))
    return ColumnUnit{std::string(text)};  // the scanner has made seconds of it
  if (q.kind == Kind::time && (lower(text) == "days" || lower(text) == "d")) {
    constexpr double kDay = 86400;  // a spreadsheet's serial counts days
    return ColumnUnit{"days", kDay};
  }
  if (lower(text) == "fraction" && q.kind == Kind::ratio) return ColumnUnit{"fraction"};
  if (text.empty() && q.kind == Kind::count) return ColumnUnit{""};
  if (const auto unit = find_unit(text, q.kind))
    return ColumnUnit{unit->symbol, unit->factor, unit->offset};
  return Error{ErrorCode::unknown_unit, "",
               fmt::format("\"{}\" is no unit of {} (known: {})", text, q.label, units_of(q.kind))};
}

bool is_unit_of(Quantity what, std::string_view text) {
  const auto unit = unit_of(what, text, Answers{});
  return unit.ok() || unit.error().code == ErrorCode::needs_answer;
}

namespace {

constexpr std::size_t kSample = 20001;

bool on_grid(const std::vector<double>& sample, double step) {
  constexpr double kRounded = 0.006;  // loggers print two decimals
  std::size_t on = 0;
  for (const double v : sample) {
    on += std::abs(v - std::round(v / step) * step) < kRounded ? 1 : 0;
  }
  return !sample.empty() && on * 100 >= sample.size() * 99;
}

}  // namespace

namespace {

// Over all rows: how many are filled, from where to where, whole numbers only?
void add_extent(const std::vector<double>& values, Stats& s) {
  constexpr double kWhole = 9e15;
  double lowest = std::numeric_limits<double>::infinity();
  double highest = -lowest;
  std::size_t gaps = 0;
  bool whole = true;
  for (const double v : values) {
    gaps += v != v ? 1 : 0;
    lowest = v < lowest ? v : lowest;
    highest = v > highest ? v : highest;
    if (whole && v == v) {
      whole = std::abs(v) > kWhole || v == static_cast<double>(static_cast<std::int64_t>(v));
    }
  }
  s.filled = values.size() - gaps;
  s.whole = whole;
  if (s.filled == 0) return;
  s.lowest = lowest;
  s.highest = highest;
}

// Neighbouring rows, in a window at a time, at most as many as the sample holds.
void add_steps(const std::vector<double>& values, Stats& s) {
  constexpr std::size_t kWindow = 256;
  const std::size_t apart = kWindow * (values.size() / kSample + 1);
  std::vector<double> steps;
  std::size_t falls = 0;
  std::size_t pairs = 0;
  for (std::size_t from = 0; from < values.size(); from += apart) {
    const std::size_t last = std::min(from + kWindow, values.size());
    for (std::size_t i = std::max<std::size_t>(from, 1); i < last; ++i) {
      const double step = values[i] - values[i - 1];
      if (std::isnan(step)) continue;
      ++pairs;
      falls += step < 0 ? 1 : 0;
      if (step != 0) steps.push_back(std::abs(step));
    }
  }
  s.falling = pairs == 0 ? 0 : static_cast<double>(falls) / static_cast<double>(pairs);
  if (steps.empty()) return;
  std::ranges::nth_element(steps, steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2));
  s.typical_step = steps[steps.size() / 2];
}

}  // namespace

Stats stats_of(const std::vector<double>& values) {
  Stats s;
  add_extent(values, s);
  if (s.filled == 0) return s;
  const std::size_t stride = values.size() / kSample + 1;
  std::vector<double> sample;
  for (std::size_t i = 0; i < values.size(); i += stride) {
    if (!std::isnan(values[i])) sample.push_back(values[i]);
  }
  if (sample.empty()) sample.push_back(s.lowest);
  s.constant = s.lowest == s.highest;
  add_steps(values, s);
  s.j1979_percent = !s.constant && !s.whole && on_grid(sample, 100.0 / 255.0);
  s.j1979_trim = !s.constant && !s.whole && on_grid(sample, 100.0 / 128.0);
  const auto at = [&](double q) {
    const auto k = sample.begin() + std::llround(q * static_cast<double>(sample.size() - 1));
    std::ranges::nth_element(sample, k);
    return *k;
  };
  s.low = at(0.01);
  s.mid = at(0.5);
  s.high = at(0.99);
  return s;
}

}  // namespace fuelwright::signals
