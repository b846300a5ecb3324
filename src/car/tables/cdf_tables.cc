// Between the instances of a CDF file and our tables: table_of, write_cdf.
#include <fmt/format.h>

#include <algorithm>

#include "car/tables/cdf.h"
#include "car/tables/internal/decimal.h"
#include "car/tables/internal/shown.h"

namespace fuelwright::car {
namespace {

std::string place_of(const CdfInstance& i) { return "CDF " + internal::shown(i.name); }

Error bad(const CdfInstance& i, const std::string& message) {
  return {ErrorCode::bad_input, place_of(i), message};
}

Error at(const CdfInstance& i, Error e) {
  e.where = place_of(i) + (e.where.empty() ? "" : ": " + e.where);
  return e;
}

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

Result<std::vector<double>> numbers(const CdfInstance& i, const std::vector<std::string>& texts,
                                    const UnitInfo& unit) {
  std::vector<double> out;
  for (const std::string& text : texts) {
    const auto v = internal::parse_in(text, unit);
    if (!v) return bad(i, fmt::format("\"{}\" is not a number", internal::shown(text)));
    out.push_back(*v);
  }
  return out;
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
  if (const auto unit = find_unit(i.unit, Kind::ratio)) return *unit;
  if (i.unit == "lambda" || i.unit == "1") return *find_unit("-", Kind::ratio);
  return Error{
      ErrorCode::unknown_unit, place_of(i),
      fmt::format("values are in \"{}\"; expected % or a plain ratio", internal::shown(i.unit))};
}

// ---- writing

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    out += c == '&' ? "&amp;" : c == '<' ? "&lt;" : c == '>' ? "&gt;" : std::string(1, c);
  }
  return out;
}

std::string element(int indent, const char* name, std::string_view text) {
  return fmt::format("{0:{1}}<{2}>{3}</{2}>\n", "", indent, name, escaped(text));
}

std::string axis_xml(const Axis& axis) {
  const UnitInfo unit = internal::axis_unit(axis.kind(), UnitSystem::metric);
  std::string out = "          <SW-AXIS-CONT>\n" + element(12, "CATEGORY", "STD_AXIS") +
                    element(12, "UNIT-DISPLAY-NAME", unit.symbol) + "            <SW-VALUES-PHYS>";
  for (const double v : axis.points()) out += "<V>" + internal::text_in(v, unit) + "</V>";
  return out + "</SW-VALUES-PHYS>\n          </SW-AXIS-CONT>\n";
}

std::string values_xml(TableWhat what, const Surface& s) {
  const int shift = internal::percent_shift(what);
  const UnitInfo yu = internal::axis_unit(s.grid.y.kind(), UnitSystem::metric);
  std::string out = "        <SW-VALUE-CONT>\n" +
                    element(10, "UNIT-DISPLAY-NAME", shift == 0 ? "-" : "%") +
                    "          <SW-VALUES-PHYS>\n";
  for (std::size_t iy = 0; iy < s.grid.y.size(); ++iy) {
    out += "            <VG><LABEL>" + internal::text_in(s.grid.y[iy], yu) + "</LABEL>";
    for (std::size_t ix = 0; ix < s.grid.x.size(); ++ix) {
      out += "<V>" + internal::shifted(s.node(ix, iy), shift) + "</V>";
    }
    out += "</VG>\n";
  }
  return out + "          </SW-VALUES-PHYS>\n        </SW-VALUE-CONT>\n";
}

const char* long_name(TableWhat what) {
  switch (what) {
    case TableWhat::ve:
      return "Volumetric efficiency";
    case TableWhat::lambda_target:
      return "Lambda to aim at";
    case TableWhat::correction:
      return "Factor on the fuel";
  }
  broken_contract("a table of the list", __FILE__, __LINE__);
}

std::string instance_xml(TableWhat what, const Surface& s) {
  return "      <SW-INSTANCE>\n" + element(8, "SHORT-NAME", name_of(what)) +
         element(8, "LONG-NAME",
                 fmt::format("{} over {} and {}", long_name(what), label_of(s.grid.x.kind()),
                             label_of(s.grid.y.kind()))) +
         element(8, "CATEGORY", "MAP") + values_xml(what, s) + "        <SW-AXIS-CONTS>\n" +
         axis_xml(s.grid.x) + axis_xml(s.grid.y) +
         "        </SW-AXIS-CONTS>\n      </SW-INSTANCE>\n";
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
  out.note = unit.symbol == "%" ? "values read as %" : "values read as fractions of 1";
  out.axes_note =
      fmt::format("engine speed in {}, {} in {}", xu->symbol, label_of(load), yu.symbol);
  return out;
}

std::string write_cdf(const Calibration& calibration, std::optional<TableWhat> only) {
  std::string out =
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
      "<!DOCTYPE MSRSW PUBLIC \"-//ASAM//DTD CALIBRATION DATA "
      "FORMAT:V2.0.0:LAI:IAI:XML:CDF200.XSD//EN\" \"cdf_v2.0.0.sl.dtd\">\n"
      "<MSRSW>\n" +
      element(2, "SHORT-NAME", "fuelwright") + element(2, "CATEGORY", "CDF20") +
      "  <SW-SYSTEMS>\n  <SW-SYSTEM>\n" + element(4, "SHORT-NAME", "engine") +
      "    <SW-INSTANCE-SPEC>\n    <SW-INSTANCE-TREE>\n" + element(6, "SHORT-NAME", "tables") +
      element(6, "CATEGORY", "NO_VCD");
  for (const auto& [what, surface] : calibration.tables) {
    if (!only || *only == what) out += instance_xml(what, surface);
  }
  return out +
         "    </SW-INSTANCE-TREE>\n    </SW-INSTANCE-SPEC>\n  </SW-SYSTEM>\n  </SW-SYSTEMS>\n"
         "</MSRSW>\n";
}

}  // namespace fuelwright::car
