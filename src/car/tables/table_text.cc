#include "car/tables/table_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace fuelwright::car {
namespace {

// ---- numbers
// -------------------------------------------------------------------------------------------------------

// The shortest decimal text of v times 10^shift; shifting digits keeps the double exact where
// multiplying would not.
std::string shifted(double v, int shift) {
  std::array<char, 64> buffer{};
  const auto end =
      std::to_chars(buffer.data(), buffer.data() + buffer.size(), v, std::chars_format::scientific);
  const std::string_view text(buffer.data(), static_cast<std::size_t>(end.ptr - buffer.data()));
  const auto e = text.find('e');
  std::string digits(text.substr(0, e));
  int exponent = 0;
  const std::string_view exponent_text = text.substr(e + (text[e + 1] == '+' ? 2 : 1));
  std::from_chars(exponent_text.data(), exponent_text.data() + exponent_text.size(), exponent);
  const bool negative = digits[0] == '-';
  std::erase(digits, '-');
  std::erase(digits, '.');
  int point = 1 + exponent + shift;  // digits before the decimal point
  if (point <= 0) {
    digits.insert(0, static_cast<std::size_t>(1 - point), '0');
    point = 1;
  }
  const auto before = static_cast<std::size_t>(point);
  if (digits.size() < before) digits.append(before - digits.size(), '0');
  std::string out = digits.substr(0, before);
  if (digits.size() > before) out += "." + digits.substr(before);
  return negative ? "-" + out : out;
}

int percent_shift(TableWhat what) { return what == TableWhat::lambda_target ? 0 : 2; }

UnitInfo axis_unit(AxisKind kind, UnitSystem system) {
  if (kind == AxisKind::throttle) return *find_unit("%", Kind::ratio);
  return display_unit(number_kind(kind), system);
}

std::string axis_text(double si, const UnitInfo& unit) {
  const double decades = std::log10(unit.factor);
  if (unit.offset == 0 && decades == std::round(decades)) {
    return shifted(si, -static_cast<int>(std::lround(decades)));
  }
  return fmt::format("{}", (si - unit.offset) / unit.factor);
}

// ---- reading
// -------------------------------------------------------------------------------------------------------

std::string_view trim(std::string_view s) {
  const auto blank = [](char c) { return c == ' ' || c == '\r' || c == '\t'; };
  while (!s.empty() && blank(s.front())) s.remove_prefix(1);
  while (!s.empty() && blank(s.back())) s.remove_suffix(1);
  if (s.size() >= 2 && s.front() == '"' && s.back() == '"') s = s.substr(1, s.size() - 2);
  return s;
}

struct Cells {
  std::vector<std::vector<std::string>> rows;
  char separator = '\t';
};

Cells split(std::string_view text) {
  constexpr std::string_view kBom = "\xEF\xBB\xBF";
  if (text.starts_with(kBom)) text.remove_prefix(kBom.size());
  Cells out;
  out.separator = text.find('\t') != std::string_view::npos  ? '\t'
                  : text.find(';') != std::string_view::npos ? ';'
                                                             : ',';
  while (!text.empty()) {
    const auto end = text.find('\n');
    std::string_view line = text.substr(0, end);
    text = end == std::string_view::npos ? std::string_view{} : text.substr(end + 1);
    if (line.ends_with('\r')) line.remove_suffix(1);
    if (trim(line).empty() || line.find_first_not_of("\t;, ") == std::string_view::npos) continue;
    std::vector<std::string> row;
    while (true) {
      const auto at = line.find(out.separator);
      row.emplace_back(trim(line.substr(0, at)));
      if (at == std::string_view::npos) break;
      line = line.substr(at + 1);
    }
    out.rows.push_back(std::move(row));
  }
  // Spreadsheets leave a separator at line ends.
  const auto all_end_blank = [&] {
    return std::all_of(out.rows.begin(), out.rows.end(),
                       [](const auto& r) { return r.size() > 1 && r.back().empty(); });
  };
  while (!out.rows.empty() && all_end_blank()) {
    for (auto& row : out.rows) row.pop_back();
  }
  return out;
}

Result<double> number_at(const Cells& cells, std::size_t r, std::size_t c, int decimal_shift = 0) {
  std::string text = cells.rows[r][c];
  const std::string where = fmt::format("row {}, column {}", r + 1, c + 1);
  for (std::size_t at; (at = text.find("\xC2\xA0")) != std::string::npos;) text.erase(at, 2);
  if (!text.empty() && text.back() == '%')
    text = std::string(trim(text.substr(0, text.size() - 1)));
  if (const auto comma = text.find(','); comma != std::string::npos) {
    if (text.find('.') != std::string::npos) {
      return Error{ErrorCode::needs_answer, where,
                   fmt::format("\"{}\" has a comma and a point; write it with one decimal mark",
                               cells.rows[r][c])};
    }
    text[comma] = '.';
  }
  if (decimal_shift != 0 && text.find_first_of("eE") == std::string::npos) {
    text += fmt::format("e{}", -decimal_shift);
    decimal_shift = 0;
  }
  if (const auto v = parse_double(text)) return *v * std::pow(10.0, -decimal_shift);
  return Error{ErrorCode::bad_input, where,
               fmt::format("\"{}\" is not a number", cells.rows[r][c])};
}

Status check_rectangular(const Cells& cells) {
  if (cells.rows.empty()) return Error{ErrorCode::bad_input, "table", "it is empty"};
  for (std::size_t r = 0; r < cells.rows.size(); ++r) {
    if (cells.rows[r].size() != cells.rows[0].size()) {
      return Error{ErrorCode::bad_input, fmt::format("row {}", r + 1),
                   fmt::format("has {} columns; the first row has {}", cells.rows[r].size(),
                               cells.rows[0].size())};
    }
  }
  return Done{};
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
  std::string y(trim(std::string_view(cell).substr(0, cut)));
  out.x_unit = std::string(trim(std::string_view(cell).substr(cut + 1)));
  for (const auto& [word, kind] :
       {std::pair{"vacuum", AxisKind::vacuum}, std::pair{"throttle", AxisKind::throttle},
        std::pair{"MAP", AxisKind::map_absolute}}) {
    if (const auto at = y.find(word); at != std::string::npos) {
      out.load = kind;
      y.erase(at, std::string_view(word).size());
    }
  }
  if (const auto unit = trim(y); !unit.empty()) out.y_unit = std::string(unit);
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
               "the text does not say what stands along the left side; answer map_absolute, vacuum "
               "or throttle"};
}

Result<UnitInfo> unit_of_axis(AxisKind kind, const std::optional<std::string>& said,
                              const std::optional<std::string>& told) {
  const auto& text = said ? said : told;
  const Kind number = number_kind(kind);
  if (text) {
    if (const auto unit = find_unit(*text, number)) return *unit;
    return Error{ErrorCode::unknown_unit, label_of(kind),
                 fmt::format("\"{}\" is no unit for it; expected {}", *text, units_of(number))};
  }
  if (kind == AxisKind::engine_speed) return *find_unit("rpm", number);
  if (kind == AxisKind::throttle) return *find_unit("%", number);
  return Error{ErrorCode::needs_answer, label_of(kind),
               fmt::format("the text does not say its unit; answer one of {}", units_of(number))};
}

Result<Grid> read_axes(const Cells& cells, const TextReading& reading) {
  const Corner corner = read_corner(cells.rows[0][0]);
  FW_TRY(const AxisKind load, load_kind(reading, corner));
  FW_TRY(const UnitInfo xu, unit_of_axis(AxisKind::engine_speed, corner.x_unit, reading.x_unit));
  FW_TRY(const UnitInfo yu, unit_of_axis(load, corner.y_unit, reading.y_unit));
  std::vector<double> xs;
  std::vector<std::pair<double, std::size_t>> ys;
  // A decimal unit is read by shifting the point, so that "60 kPa" is exactly 60,000 Pa.
  const auto si = [](const Cells& c, std::size_t row, std::size_t col,
                     const UnitInfo& unit) -> Result<double> {
    const double decades = std::log10(unit.factor);
    if (unit.offset == 0 && decades == std::round(decades)) {
      return number_at(c, row, col, -static_cast<int>(std::lround(decades)));
    }
    FW_TRY(const double v, number_at(c, row, col));
    return v * unit.factor + unit.offset;
  };
  for (std::size_t c = 1; c < cells.rows[0].size(); ++c) {
    FW_TRY(const double v, si(cells, 0, c, xu));
    xs.push_back(v);
  }
  for (std::size_t r = 1; r < cells.rows.size(); ++r) {
    FW_TRY(const double v, si(cells, r, 0, yu));
    ys.emplace_back(v, r);
  }
  std::vector<double> y;
  for (const auto& [v, r] : ys) y.push_back(v);
  if (y.size() > 1 && y.front() > y.back()) std::reverse(y.begin(), y.end());  // high load on top
  FW_TRY(Axis x_axis, Axis::make(AxisKind::engine_speed, std::move(xs)));
  FW_TRY(Axis y_axis, Axis::make(load, std::move(y)));
  return Grid{std::move(x_axis), std::move(y_axis)};
}

// VE and corrections come in % or as a fraction: their ranges are a factor 100 apart, so the middle
// value tells.
int value_shift(TableWhat what, std::vector<double> values) {
  if (percent_shift(what) == 0) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle > 3.0 ? 2 : 0;
}

Status read_values(const Cells& cells, std::size_t first, bool high_load_on_top, TableWhat what,
                   ReadTable& out) {
  const Grid& grid = out.surface.grid;
  for (const bool final_pass : {false, true}) {
    const int shift = final_pass ? value_shift(what, out.surface.values) : 0;
    for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
      const std::size_t r = first + (high_load_on_top ? grid.y.size() - 1 - iy : iy);
      for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
        FW_TRY(out.surface.node(ix, iy), number_at(cells, r, first + ix, shift));
      }
    }
    if (final_pass && percent_shift(what) != 0) {
      out.note = shift == 2 ? "values read as %" : "values read as fractions of 1";
    }
  }
  return Done{};
}

}  // namespace

std::string write_table(const Surface& surface, TableWhat what, TextForm form, UnitSystem system) {
  const char* sep = form == TextForm::tsv ? "\t" : ",";
  const Grid& grid = surface.grid;
  const UnitInfo xu = axis_unit(grid.x.kind(), system);
  const UnitInfo yu = axis_unit(grid.y.kind(), system);
  const char* load = grid.y.kind() == AxisKind::vacuum     ? "vacuum "
                     : grid.y.kind() == AxisKind::throttle ? "throttle "
                                                           : "MAP ";
  std::string out = fmt::format("{}{} \\ {}", load, yu.symbol, xu.symbol);
  for (const double x : grid.x.points()) out += sep + axis_text(x, xu);
  out += "\n";
  for (std::size_t iy = 0; iy < grid.y.size(); ++iy) {
    out += axis_text(grid.y[iy], yu);
    for (std::size_t ix = 0; ix < grid.x.size(); ++ix) {
      out += sep + shifted(surface.node(ix, iy), percent_shift(what));
    }
    out += "\n";
  }
  return out;
}

Result<ReadTable> read_table(std::string_view text, const TextReading& reading) {
  const Cells cells = split(text);
  FW_CHECK(check_rectangular(cells));
  const std::size_t rows = cells.rows.size();
  const std::size_t columns = cells.rows[0].size();
  const bool bare =
      reading.axes && rows == reading.axes->y.size() && columns == reading.axes->x.size();
  if (!bare && (rows < 2 || columns < 2)) {
    return Error{ErrorCode::bad_input, "table",
                 fmt::format("{} rows by {} columns came; expected axes and at least one value",
                             rows, columns)};
  }
  std::optional<Grid> grid = bare ? reading.axes : std::nullopt;
  if (!bare) {
    FW_TRY(Grid read, read_axes(cells, reading));
    grid = std::move(read);
  }
  ReadTable out{Surface::flat(*grid, 0.0), !bare, ""};
  bool high_on_top = false;
  if (!bare && rows > 2) {
    FW_TRY(const double top, number_at(cells, 1, 0));
    FW_TRY(const double bottom, number_at(cells, rows - 1, 0));
    high_on_top = top > bottom;
  }
  FW_CHECK(read_values(cells, bare ? 0 : 1, high_on_top, reading.what, out));
  Calibration check;
  check.tables.emplace(reading.what, out.surface);
  FW_CHECK(validate(check));
  return out;
}

}  // namespace fuelwright::car
