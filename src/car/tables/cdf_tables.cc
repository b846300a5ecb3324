// From an instance of a CDF file to a table: table_of.
#include <fmt/format.h>

#include <algorithm>

#include "car/tables/cdf.h"
#include "car/tables/internal/cdf_reading.h"
#include "car/tables/internal/decimal.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car {

using internal::at;
using internal::bad;
using internal::numbers;
using internal::place_of;

namespace {

// What our own files say in the long name; others may say it too.
std::optional<AxisKind> kind_said(const std::string& long_name) {
  std::optional<AxisKind> found;
  for (const auto& [word, kind] :
       {std::pair{"vacuum", AxisKind::vacuum}, std::pair{"throttle", AxisKind::throttle},
        std::pair{"manifold pressure", AxisKind::map_absolute}}) {
    if (long_name.find(word) == std::string::npos) continue;
    if (found) return std::nullopt;
    found = kind;
  }
  return found;
}

Result<AxisKind> load_kind(const CdfInstance& i, const CdfAxis& axis, const TextReading& reading) {
  if (const auto said = kind_said(i.long_name)) return *said;
  if (reading.load) return *reading.load;
  if (reading.axes) return reading.axes->y.kind();
  if (axis.unit == "%") return AxisKind::throttle;
  return Error{
      ErrorCode::needs_answer, place_of(i),
      "the file does not say what the load axis is; give --load-axis map_absolute, vacuum or "
      "throttle"};
}

Result<Axis> axis_of(const CdfInstance& i, AxisKind kind, const UnitInfo& unit,
                     const std::vector<std::string>& texts) {
  FW_TRY(auto points, numbers(i, texts, unit));
  auto axis = Axis::make(kind, std::move(points));
  if (!axis) return at(i, axis.error());
  return axis;
}

Result<UnitInfo> load_unit(const CdfInstance& i, AxisKind kind, const CdfAxis& axis,
                           const TextReading& reading) {
  const std::string text = !axis.unit.empty() ? axis.unit : reading.y_unit.value_or("");
  if (text.empty()) {
    return Error{
        ErrorCode::needs_answer, place_of(i),
        fmt::format("the file does not say the unit of its load axis; give --load-unit: {}",
                    units_of(number_kind(kind)))};
  }
  auto unit = internal::axis_unit_named(kind, text);
  if (!unit) return at(i, unit.error());
  return unit;
}

// x along, y up, both increasing, speed along x.
struct Upright {
  CdfAxis x;
  CdfAxis y;
  std::vector<std::vector<std::string>> rows;
};

bool falls(const std::vector<std::string>& points) {
  const auto first = parse_double(points.front());
  const auto last = parse_double(points.back());
  return first && last && *first > *last;
}

Result<Upright> upright(const CdfInstance& i) {
  if (!i.unusable.empty()) return bad(i, i.unusable);
  if (i.kind != CdfKind::map || i.axes.size() != 2) {
    return bad(i, fmt::format("is no map (category \"{}\", {} axes); expected a map over two axes",
                              internal::shown(i.category), i.axes.size()));
  }
  Upright out{i.axes[0], i.axes[1], i.values};
  for (const CdfAxis* a : {&out.x, &out.y}) {
    if (a->values.empty() || a->values.size() > kMaxBreakpoints) {
      return bad(i, fmt::format("{} breakpoints came on an axis; expected 1 to {}",
                                a->values.size(), kMaxBreakpoints));
    }
  }
  const bool fits = out.rows.size() == out.y.values.size() &&
                    std::all_of(out.rows.begin(), out.rows.end(),
                                [&](const auto& row) { return row.size() == out.x.values.size(); });
  if (!fits) {
    return bad(i, fmt::format("its groups of values do not fit {} x points and {} y points",
                              out.x.values.size(), out.y.values.size()));
  }
  if (!find_unit(out.x.unit, Kind::engine_speed) && find_unit(out.y.unit, Kind::engine_speed)) {
    std::vector<std::vector<std::string>> turned(out.x.values.size());
    for (const auto& row : out.rows) {
      for (std::size_t k = 0; k < row.size(); ++k) turned[k].push_back(row[k]);
    }
    std::swap(out.x, out.y);
    out.rows = std::move(turned);
  }
  if (falls(out.y.values)) {
    std::reverse(out.y.values.begin(), out.y.values.end());
    std::reverse(out.rows.begin(), out.rows.end());
  }
  if (falls(out.x.values)) {
    std::reverse(out.x.values.begin(), out.x.values.end());
    for (auto& row : out.rows) std::reverse(row.begin(), row.end());
  }
  return out;
}

// Values without a unit: VE and corrections in % lie a factor 100 above those in fractions.
bool in_percent(const Upright& u, TableWhat what) {
  if (internal::percent_shift(what) == 0) return false;
  const auto& middle = u.rows[u.rows.size() / 2];
  return parse_double(middle[middle.size() / 2]).value_or(0) > 3.0;
}

Result<UnitInfo> value_unit(const CdfInstance& i, const Upright& u, TableWhat what) {
  if (i.unit.empty()) return *find_unit(in_percent(u, what) ? "%" : "-", Kind::ratio);
  if (const auto unit = find_unit(i.unit, Kind::ratio); unit && what != TableWhat::spark) {
    return *unit;
  }
  if (i.unit == "lambda" || i.unit == "1") return *find_unit("-", Kind::ratio);
  if (what == TableWhat::spark && i.unit == "deg") return *find_unit("-", Kind::ratio);
  return Error{ErrorCode::unknown_unit, place_of(i),
               fmt::format("values are in \"{}\"; expected {}", internal::shown(i.unit),
                           what == TableWhat::spark ? "deg" : "% or a plain ratio")};
}

}  // namespace

Result<ReadTable> table_of(const CdfInstance& i, const TextReading& reading) {
  FW_TRY(const Upright u, upright(i));
  FW_TRY(const AxisKind load, load_kind(i, u.y, reading));
  const std::string x_text = u.x.unit.empty() ? reading.x_unit.value_or("rpm") : u.x.unit;
  const auto xu = internal::axis_unit_named(AxisKind::engine_speed, x_text);
  if (!xu) return at(i, xu.error());
  FW_TRY(const UnitInfo yu, load_unit(i, load, u.y, reading));
  FW_TRY(const UnitInfo unit, value_unit(i, u, reading.what));
  FW_TRY(Axis x, axis_of(i, AxisKind::engine_speed, *xu, u.x.values));
  FW_TRY(Axis y, axis_of(i, load, yu, u.y.values));
  ReadTable out{Surface::flat({std::move(x), std::move(y)}, 0.0), true, "", ""};
  out.surface.values.clear();
  for (const auto& row : u.rows) {
    FW_TRY(const auto values, numbers(i, row, unit));
    out.surface.values.insert(out.surface.values.end(), values.begin(), values.end());
  }
  Calibration check;
  check.tables.emplace(reading.what, out.surface);
  if (const auto valid = validate(check); !valid) return at(i, valid.error());
  out.note = unit.symbol == "%"                 ? "values read as %"
             : reading.what == TableWhat::spark ? "values read as deg"
                                                : "values read as fractions of 1";
  out.axes_note =
      fmt::format("engine speed in {}, {} in {}", xu->symbol, label_of(load), yu.symbol);
  return out;
}

}  // namespace fuelwright::car
