#include "car/tables/table_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>

#include "car/tables/axis_unit.h"
#include "car/tables/internal/cells.h"
#include "car/tables/internal/decimal.h"
#include "car/tables/placing.h"

namespace fuelwright::car {
namespace {

using internal::Cells;
using internal::number_at;

std::string trimmed(std::string_view s) {
  const auto from = s.find_first_not_of(' ');
  if (from == std::string_view::npos) return "";
  return std::string(s.substr(from, s.find_last_not_of(' ') - from + 1));
}

// "kPa \ rpm": the units of y and x in the corner cell.
struct Corner {
  std::optional<std::string> x_unit;
  std::optional<std::string> y_unit;
  std::optional<AxisKind> load;
};

Corner read_corner(const std::string& cell) {
  Corner out;
  const auto cut = cell.find('\\');
  if (cut == std::string::npos) return out;
  std::string y = trimmed(std::string_view(cell).substr(0, cut));
  out.x_unit = trimmed(std::string_view(cell).substr(cut + 1));
  for (const auto& [word, kind] :
       {std::pair{"vacuum", AxisKind::vacuum}, std::pair{"throttle", AxisKind::throttle},
        std::pair{"MAP", AxisKind::map_absolute}}) {
    if (const auto at = y.find(word); at != std::string::npos) {
      out.load = kind;
      y.erase(at, std::string_view(word).size());
    }
  }
  if (const std::string unit = trimmed(y); !unit.empty()) out.y_unit = unit;
  return out;
}

Result<AxisKind> load_kind(const TextReading& reading, const Corner& corner) {
  if (corner.load) return *corner.load;
  if (reading.load) return *reading.load;
  if (reading.axes) return reading.axes->y.kind();
  if (corner.y_unit) {
    if (*corner.y_unit == "%") return AxisKind::throttle;
    if (*corner.y_unit == "kPa") return AxisKind::map_absolute;
  }
  return Error{ErrorCode::needs_answer, "load axis",
               "the text does not say what stands along the left side; give --load-axis "
               "map_absolute, vacuum "
               "or throttle"};
}

Result<std::vector<double>> column(const Cells& cells, const UnitInfo& unit) {
  std::vector<double> out;
  for (std::size_t r = 1; r < cells.row_count(); ++r) {
    FW_TRY(const double v, number_at(cells, r, 0, unit));
    out.push_back(v);
  }
  return out;
}

// The one unit in which the numbers down the side are breakpoints of the axis.
std::optional<UnitInfo> unit_that_fits(const Cells& cells, const Axis& axis) {
  std::optional<UnitInfo> found;
  for (const char* name : {"kPa", "inHg", "psi", "bar", "hPa", "mmHg", "Pa", "%", "-"}) {
    const auto unit = find_unit(name, number_kind(axis.kind()));
    const auto points = unit ? column(cells, *unit) : Result<std::vector<double>>(Error{});
    if (!points) continue;
    std::set<std::size_t> places;
    for (const double v : *points) {
      if (const auto at = breakpoint_at(axis, v)) places.insert(*at);
    }
    const bool fits = places.size() == points->size();
    if (!fits) continue;
    if (found) return std::nullopt;
    found = unit;
  }
  return found;
}

Result<UnitInfo> load_unit(const Cells& cells, AxisKind kind, const Corner& corner,
                           const TextReading& reading) {
  if (corner.y_unit) return internal::axis_unit_named(kind, *corner.y_unit);
  if (reading.y_unit) return internal::axis_unit_named(kind, *reading.y_unit);
  if (reading.axes && reading.axes->y.kind() == kind) {
    if (const auto unit = unit_that_fits(cells, reading.axes->y)) return *unit;
  }
  if (kind == AxisKind::throttle) return axis_unit(kind, UnitSystem::metric);
  return Error{ErrorCode::needs_answer, label_of(kind),
               fmt::format("the text does not say its unit; give --load-unit: {}",
                           units_of(number_kind(kind)))};
}

struct ReadAxes {
  Grid grid;
  bool high_on_top = false;
  std::string note;
};

Result<ReadAxes> read_axes(const Cells& cells, const TextReading& reading) {
  const Corner corner = read_corner(cells.rows[0][0]);
  FW_TRY(const AxisKind load, load_kind(reading, corner));
  const std::string x_unit = corner.x_unit ? *corner.x_unit : reading.x_unit.value_or("rpm");
  FW_TRY(const UnitInfo xu, internal::axis_unit_named(AxisKind::engine_speed, x_unit));
  FW_TRY(const UnitInfo yu, load_unit(cells, load, corner, reading));
  std::vector<double> x;
  for (std::size_t c = 1; c < cells.column_count(); ++c) {
    FW_TRY(const double v, number_at(cells, 0, c, xu));
    x.push_back(v);
  }
  FW_TRY(std::vector<double> y, column(cells, yu));
  const bool high_on_top = y.size() > 1 && y.front() > y.back();
  if (high_on_top) std::reverse(y.begin(), y.end());
  FW_TRY(Axis x_axis, Axis::make(AxisKind::engine_speed, std::move(x)));
  FW_TRY(Axis y_axis, Axis::make(load, std::move(y)));
  return ReadAxes{{std::move(x_axis), std::move(y_axis)},
                  high_on_top,
                  fmt::format("engine speed in {}, {} in {}", xu.symbol, label_of(load),
                              yu.symbol.empty() ? "fractions of 1" : yu.symbol)};
}

// ---- blocks without axes

// Whether the cells are values and nothing else. No value of any table is above 300 (in %), no
// engine runs that slowly.
bool is_bare(const Cells& cells, const TextReading& reading) {
  constexpr double kAboveAllValues = 300;
  if (!reading.axes || !internal::looks_like_number(cells.rows[0][0])) return false;
  for (std::size_t c = 1; c < cells.column_count(); ++c) {
    const auto v = number_at(cells, 0, c);
    if (v && *v > kAboveAllValues) return false;
  }
  return true;
}

Result<Axis> some_of(const Axis& axis, std::size_t first, std::size_t count) {
  const auto points = axis.points().subspan(first, count);
  return Axis::make(axis.kind(), {points.begin(), points.end()});
}

Result<Grid> grid_of_block(const Cells& cells, const TextReading& reading) {
  const Grid& axes = *reading.axes;
  const std::size_t columns = cells.column_count();
  const std::size_t rows = cells.row_count();
  const NodePlace at = reading.at.value_or(NodePlace{});
  const bool whole = columns == axes.x.size() && rows == axes.y.size();
  const std::string size =
      fmt::format("{} rows by {} columns without axes came; the table has {} by {}", rows, columns,
                  axes.y.size(), axes.x.size());
  if (!whole && reading.whole) return Error{ErrorCode::bad_input, "table", size};
  if (at.ix + columns > axes.x.size() || at.iy + rows > axes.y.size()) {
    return Error{ErrorCode::bad_input, "table", size};
  }
  if (!whole && !reading.at) {
    return Error{
        ErrorCode::needs_answer, "table",
        size + "; give --at with the node where it begins, such as --at \"1500 rpm, 40 kPa\""};
  }
  FW_TRY(Axis x, some_of(axes.x, at.ix, columns));
  FW_TRY(Axis y, some_of(axes.y, at.iy, rows));
  return Grid{std::move(x), std::move(y)};
}

// ---- values

// VE and corrections come in % or as a fraction: their ranges are a factor 100 apart, so the middle
// value tells, and a % sign does.
int value_shift(const Cells& cells, TableWhat what, std::vector<double> values) {
  if (internal::percent_shift(what) == 0) return 0;
  for (const auto& row : cells.rows) {
    if (row.back().ends_with('%')) return 2;
  }
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle > 3.0 ? 2 : 0;
}

Status read_values(const Cells& cells, std::size_t first, bool high_on_top, TableWhat what,
                   ReadTable& out) {
  const Grid& grid = out.surface.grid;
  for (const bool final_pass : {false, true}) {
    const int shift = final_pass ? value_shift(cells, what, out.surface.values) : 0;
    for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
      const std::size_t r = first + (high_on_top ? grid.y.size() - 1 - iy : iy);
      for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
        FW_TRY(out.surface.node(ix, iy), number_at(cells, r, first + ix, -shift));
      }
    }
    if (final_pass && internal::percent_shift(what) != 0) {
      out.note = shift == 2 ? "values read as %" : "values read as fractions of 1";
    }
  }
  return Done{};
}

Status check_size(const Cells& cells, bool bare) {
  const std::size_t axes = bare ? 0 : 1;
  if (cells.row_count() <= axes || cells.column_count() <= axes) {
    return Error{ErrorCode::bad_input, "table",
                 fmt::format("{} rows by {} columns came; expected axes and at least one value",
                             cells.row_count(), cells.column_count())};
  }
  if (cells.row_count() > kMaxBreakpoints + axes || cells.column_count() > kMaxBreakpoints + axes) {
    return Error{
        ErrorCode::too_large, "table",
        fmt::format("{} rows by {} columns came; a table has at most {} by {} values",
                    cells.row_count(), cells.column_count(), kMaxBreakpoints, kMaxBreakpoints)};
  }
  return Done{};
}

}  // namespace

std::string text_cell(std::string_view words, TextForm form) {
  const bool formula =
      !words.empty() && std::string_view("=+-@\t\r").find(words[0]) != std::string_view::npos;
  const std::string_view special = form == TextForm::csv ? ",\"\r\n" : "\t\"\r\n";
  if (!formula && words.find_first_of(special) == std::string_view::npos) return std::string(words);
  std::string out = formula ? "\"'" : "\"";
  for (const char c : words) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + "\"";
}

std::string write_table(const Surface& surface, TableWhat what, TextForm form, UnitSystem system) {
  const char* sep = form == TextForm::tsv ? "\t" : ",";
  const Grid& grid = surface.grid;
  const UnitInfo xu = axis_unit(grid.x.kind(), system);
  const UnitInfo yu = axis_unit(grid.y.kind(), system);
  const char* load = grid.y.kind() == AxisKind::vacuum     ? "vacuum "
                     : grid.y.kind() == AxisKind::throttle ? "throttle "
                                                           : "MAP ";
  std::string out = text_cell(fmt::format("{}{} \\ {}", load, yu.symbol, xu.symbol), form);
  for (const double x : grid.x.points()) out += sep + internal::text_in(x, xu);
  out += "\n";
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    out += internal::text_in(grid.y[iy], yu);
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      out += sep + internal::shifted(surface.node(ix, iy), internal::percent_shift(what));
    }
    out += "\n";
  }
  return out;
}

std::string write_curve(const Curve& curve, CurveWhat what, TextForm form, UnitSystem system) {
  const char* sep = form == TextForm::tsv ? "\t" : ",";
  const UnitInfo xu = axis_unit(curve.axis.kind(), system);
  const UnitInfo vu = shown_unit(unit_of(what), system);
  const auto head = [](const char* label, const UnitInfo& unit) {
    return unit.symbol.empty() ? std::string(label) : fmt::format("{} {}", label, unit.symbol);
  };
  std::string out = text_cell(head(label_of(curve.axis.kind()), xu), form) + sep +
                    text_cell(head(label_of(what), vu), form) + "\n";
  for (std::size_t i = 0; i < curve.values.size(); ++i) {
    out +=
        internal::text_in(curve.axis[i], xu) + sep + internal::text_in(curve.values[i], vu) + "\n";
  }
  return out;
}

Result<ReadTable> read_table(std::string_view text, const TextReading& reading) {
  FW_TRY(Cells cells, internal::split_cells(text, reading.decimal == ','));
  FW_CHECK(internal::refuse_formulas(cells));
  const bool bare = is_bare(cells, reading);
  FW_CHECK(check_size(cells, bare));
  FW_CHECK(internal::find_decimal_mark(cells, bare ? 0 : 1, reading.decimal));
  std::optional<ReadTable> out;
  bool high_on_top = reading.last_row_first;
  if (bare) {
    FW_TRY(Grid grid, grid_of_block(cells, reading));
    out = ReadTable{Surface::flat(std::move(grid), 0.0), false, "", ""};
    out->axes_note =
        fmt::format("no axes; the first row is {}",
                    out->surface.grid.y.format_point(
                        high_on_top ? out->surface.grid.y.size() - 1 : 0, UnitSystem::metric));
  } else {
    FW_TRY(ReadAxes axes, read_axes(cells, reading));
    high_on_top = axes.high_on_top;
    out = ReadTable{Surface::flat(std::move(axes.grid), 0.0), true, "", axes.note};
  }
  FW_CHECK(read_values(cells, bare ? 0 : 1, high_on_top, reading.what, *out));
  Calibration check;
  check.tables.emplace(reading.what, out->surface);
  FW_CHECK(validate(check));
  return std::move(*out);
}

}  // namespace fuelwright::car
