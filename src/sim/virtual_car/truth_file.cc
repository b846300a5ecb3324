#include "sim/virtual_car/truth_file.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <functional>

#include "base/contract.h"
#include "sim/virtual_car/internal/parameters.h"
#include "sim/virtual_car/internal/random.h"

namespace fuelwright::sim::virtual_car {
namespace {

constexpr std::size_t kLargestText = 1 << 20;
constexpr double kAirSpread = 0.012;   // of a cylinder, one standard deviation
constexpr double kFuelSpread = 0.012;  // of an injector
constexpr double kWetSpread = 0.03;    // of a cylinder's fuel on a wet manifold

/// Lists of numbers in the file; all but the gears may be empty.
struct List {
  const char* section;
  const char* key;
  double unit;
  double lowest, highest;
};
constexpr List kGears{"vehicle", "gears", 1, 0.2, 20};
constexpr List kAirCylinders{"air", "cylinders", 1, 0.5, 1.5};
constexpr List kFuelCylinders{"fuel", "cylinders", 1, 0, 2};
constexpr List kSpeeds{"air", "speed_rpm", 1, 100, 20000};
constexpr List kPressures{"air", "map_kpa", 1e3, 5, 400};
constexpr List kVe{"air", "ve", 1, 0.02, 2.5};
constexpr List kResidual{"air", "residual", 1, 0, 1};
constexpr List kLists[] = {kGears,     kAirCylinders, kFuelCylinders, kSpeeds,
                           kPressures, kVe,           kResidual};
/// Where the air tables stand; not drawn.
constexpr List kReferences[] = {{"air", "reference_ambient_kpa", 1e3, 40, 110},
                                {"air", "reference_intake_degc", 1, -40, 100},
                                {"air", "reference_coolant_degc", 1, -40, 130}};
constexpr const char* kFormat = "fuelwright truth 1";

std::string exact(double si, double unit) {
  for (int digits = 5; digits < 17; ++digits) {
    const std::string text = fmt::format("{:.{}g}", si / unit, digits);
    double back = 0;
    std::from_chars(text.data(), text.data() + text.size(), back);
    if (back * unit == si) return text;
  }
  return fmt::format("{:.17g}", si / unit);
}

std::string cut(std::string_view text) {
  std::string out;
  for (const char c : text.substr(0, 60)) out += static_cast<unsigned char>(c) < 0x20 ? '?' : c;
  return out;
}

class Reader {
 public:
  Reader(const toml::table& root, std::string_view file) : root_(root), file_(file) {}

  Error error(ErrorCode code, const toml::node* node, const std::string& key,
              const std::string& message) const {
    const auto line = node == nullptr ? 1U : std::max(node->source().begin.line, 1U);
    return {code, fmt::format("{}:{}: {}", file_, line, key), message};
  }
  const toml::node* find(const char* section, const char* key) const {
    const toml::table* in = root_[section].as_table();
    return in == nullptr ? nullptr : in->get(key);
  }
  Result<double> number(const toml::node& node, const std::string& key, double lowest,
                        double highest) const {
    const auto value = node.is_boolean() ? std::optional<double>(*node.value<bool>() ? 1.0 : 0.0)
                                         : node.value<double>();
    if (!value) return error(ErrorCode::bad_input, &node, key, "is no number");
    if (!(*value >= lowest && *value <= highest)) {
      return error(ErrorCode::out_of_range, &node, key,
                   fmt::format("{:g} came; expected {:g} to {:g}", *value, lowest, highest));
    }
    return *value;
  }
  /// In SI; empty if it is not given.
  Result<std::vector<double>> list(const List& l) const {
    std::vector<double> out;
    const toml::node* node = find(l.section, l.key);
    if (node == nullptr) return out;
    const std::string key = fmt::format("{}.{}", l.section, l.key);
    const toml::array* array = node->as_array();
    if (array == nullptr || array->empty()) {
      return error(ErrorCode::bad_input, node, key, "is no list of numbers");
    }
    for (const toml::node& entry : *array) {
      FW_TRY(const double value, number(entry, key, l.lowest, l.highest));
      out.push_back(value * l.unit);
    }
    return out;
  }
  Status check_names() const;

 private:
  const toml::table& root_;
  std::string file_;
};

std::vector<std::string> keys_of(std::string_view section) {
  std::vector<std::string> out;
  for (const Parameter& p : all_parameters()) {
    if (section == p.section) out.emplace_back(p.key);
  }
  for (const List& l : kLists) {
    if (section == l.section) out.emplace_back(l.key);
  }
  for (const List& l : kReferences) {
    if (section == l.section) out.emplace_back(l.key);
  }
  if (section == "recorder") out.emplace_back("missing");
  return out;
}

Status Reader::check_names() const {
  for (const auto& [name, node] : root_) {
    const std::string section(name.str());
    if (section == "format") {
      if (node.value<std::string>() == kFormat) continue;
      return error(ErrorCode::bad_input, &node, section, fmt::format("expected \"{}\"", kFormat));
    }
    const auto known = keys_of(section);
    if (known.empty()) {
      return error(ErrorCode::bad_input, &node, cut(section),
                   "unknown section; expected engine, air, fuel, film, exhaust, sensor, computer, "
                   "weather, vehicle, driver or recorder");
    }
    if (!node.is_table()) return error(ErrorCode::bad_input, &node, section, "is no section");
    for (const auto& [key, value] : *node.as_table()) {
      if (std::ranges::find(known, key.str()) != known.end()) continue;
      std::string names;
      for (const std::string& k : known) names += (names.empty() ? "" : ", ") + k;
      return error(ErrorCode::bad_input, &value, section + "." + cut(key.str()),
                   "unknown key; known: " + names);
    }
  }
  return Done{};
}

Status read_air(const Reader& r, Truth& t) {
  FW_TRY(const auto speeds, r.list(kSpeeds));
  FW_TRY(const auto pressures, r.list(kPressures));
  FW_TRY(auto ve, r.list(kVe));
  FW_TRY(auto residual, r.list(kResidual));
  double reference[3] = {101.325, 25, 88};
  int given = 0;
  for (std::size_t i = 0; i < 3; ++i) {
    const List& l = kReferences[i];
    const toml::node* node = r.find(l.section, l.key);
    if (node == nullptr) continue;
    FW_TRY(reference[i], r.number(*node, std::string("air.") + l.key, l.lowest, l.highest));
    ++given;
  }
  if (speeds.empty() && pressures.empty() && ve.empty() && residual.empty()) return Done{};
  const toml::node* at = r.find("air", "ve");
  const std::size_t n = speeds.size() * pressures.size();
  if (given != 3 || n == 0 || ve.size() != n || residual.size() != n) {
    return r.error(
        ErrorCode::bad_input, at, "air.ve",
        fmt::format("{} values of ve and {} of residual over {} speeds and {} pressures, "
                    "{} of 3 references; expected one of each at every place (speeds "
                    "first), or none of them",
                    ve.size(), residual.size(), speeds.size(), pressures.size(), given));
  }
  auto x = car::Axis::make(car::AxisKind::engine_speed, speeds);
  auto y = car::Axis::make(car::AxisKind::map_absolute, pressures);
  if (!x) return r.error(x.error().code, at, "air.speed_rpm", x.error().message);
  if (!y) return r.error(y.error().code, at, "air.map_kpa", y.error().message);
  const car::Grid grid{*x, *y};
  t.air.ve = car::Surface{grid, std::move(ve)};
  t.air.residual = car::Surface{grid, std::move(residual)};
  t.air.reference_ambient = absolute(reference[0] * kPa);
  t.air.reference_intake = celsius(reference[1]);
  t.air.reference_coolant = celsius(reference[2]);
  return Done{};
}

std::vector<double> spread(int count, double sd, std::uint64_t seed, std::string_view subject) {
  Random random(seed, subject);
  std::vector<double> out;
  double sum = 0;
  for (int i = 0; i < count; ++i) {
    out.push_back(1 + sd * std::clamp(random.normal(), -2.5, 2.5));
    sum += out.back();
  }
  for (double& v : out) v = std::round(v * count / sum * 1e5) / 1e5;
  return out;
}

Status read_lists(const Reader& r, const car::Sheet& sheet, std::uint64_t seed, Truth& t) {
  FW_TRY(t.vehicle.gears, r.list(kGears));
  if (t.vehicle.gears.empty()) t.vehicle.gears = sheet.car.gears.values;
  FW_TRY(t.air.cylinders, r.list(kAirCylinders));
  if (t.air.cylinders.empty()) {
    t.air.cylinders = spread(t.engine.cylinders, kAirSpread, seed, "air of the cylinders");
  }
  FW_TRY(t.fuel.cylinders, r.list(kFuelCylinders));
  if (t.fuel.cylinders.empty()) {
    const double sd = t.film.above_throttle ? kWetSpread : kFuelSpread;
    t.fuel.cylinders = spread(t.engine.cylinders, sd, seed, "fuel of the cylinders");
  }
  const auto wanted = static_cast<std::size_t>(t.engine.cylinders);
  for (const auto* list : {&t.air.cylinders, &t.fuel.cylinders}) {
    if (list->size() == wanted) continue;
    const char* section = list == &t.air.cylinders ? "air" : "fuel";
    return r.error(
        ErrorCode::bad_input, r.find(section, "cylinders"), fmt::format("{}.cylinders", section),
        fmt::format("{} values came; expected one for each of {} cylinders", list->size(), wanted));
  }
  const toml::node* missing = r.find("recorder", "missing");
  if (missing == nullptr) return Done{};
  const toml::array* names = missing->as_array();
  if (names == nullptr) {
    return r.error(ErrorCode::bad_input, missing, "recorder.missing", "is no list of channels");
  }
  for (const toml::node& entry : *names) {
    const std::string name = entry.value_or(std::string());
    if (std::ranges::find(channel_names(), name) == channel_names().end()) {
      return r.error(ErrorCode::bad_input, &entry, "recorder.missing",
                     fmt::format("\"{}\" is no channel; known: {}", cut(name),
                                 fmt::join(channel_names(), ", ")));
    }
    t.recorder.missing.push_back(name);
  }
  return Done{};
}

Result<Truth> read(const toml::table& root, std::string_view file, const car::Sheet& sheet,
                   std::uint64_t seed) {
  const Reader r(root, file);
  FW_CHECK(r.check_names());
  Truth t;
  for (const Parameter& p : all_parameters()) {
    double si = drawn(p, sheet, seed);
    if (const toml::node* node = r.find(p.section, p.key)) {
      const std::string key = fmt::format("{}.{}", p.section, p.key);
      FW_TRY(const double value, r.number(*node, key, p.lowest, p.highest));
      if (p.whole && value != std::round(value)) {
        return r.error(ErrorCode::bad_input, node, key,
                       fmt::format("{} came; expected a whole number", value));
      }
      si = to_si(p, value);
    }
    p.set(t, si);
  }
  FW_CHECK(read_lists(r, sheet, seed, t));
  FW_CHECK(read_air(r, t));
  return t;
}

std::string listed(const std::vector<double>& values, double unit, std::size_t a_line) {
  std::string out = "[";
  for (std::size_t i = 0; i < values.size(); ++i) {
    out += i == 0 ? "" : i % a_line == 0 ? ",\n  " : ", ";
    out += exact(values[i], unit);
  }
  return out + "]";
}

void write_lists(std::string& text, std::string_view section, const Truth& t) {
  const auto put = [&text](const List& l, const std::vector<double>& values, std::size_t a_line) {
    text += fmt::format("{} = {}\n", l.key, listed(values, l.unit, a_line));
  };
  if (section == "vehicle") put(kGears, t.vehicle.gears, 12);
  if (section == "fuel") put(kFuelCylinders, t.fuel.cylinders, 12);
  if (section == "recorder" && !t.recorder.missing.empty()) {
    text += fmt::format("missing = [\"{}\"]\n", fmt::join(t.recorder.missing, "\", \""));
  }
  if (section != "air") return;
  put(kAirCylinders, t.air.cylinders, 12);
  if (!t.has_air()) return;
  const car::Grid& grid = t.air.ve->grid;
  const std::vector<double> x(grid.x.points().begin(), grid.x.points().end());
  const std::vector<double> y(grid.y.points().begin(), grid.y.points().end());
  text +=
      fmt::format("reference_ambient_kpa = {}\n", exact(t.air.reference_ambient.from_zero.si, 1e3));
  text += fmt::format("reference_intake_degc = {:.4f}\n", in_celsius(t.air.reference_intake));
  text += fmt::format("reference_coolant_degc = {:.4f}\n", in_celsius(t.air.reference_coolant));
  put(kSpeeds, x, x.size());
  put(kPressures, y, y.size());
  put(kVe, t.air.ve->values, x.size());
  put(kResidual, t.air.residual->values, x.size());
}

}  // namespace

Result<Truth> truth_in(std::string_view toml_text, std::string_view file_name,
                       const car::Sheet& sheet, std::uint64_t seed) {
  if (toml_text.size() > kLargestText) {
    return Error{ErrorCode::too_large, std::string(file_name),
                 fmt::format("{} bytes came; expected at most {}", toml_text.size(), kLargestText)};
  }
  try {
    const toml::table root = toml::parse(toml_text, file_name);
    return read(root, file_name, sheet, seed);
  } catch (const toml::parse_error& e) {
    return Error{ErrorCode::bad_input, fmt::format("{}:{}", file_name, e.source().begin.line),
                 fmt::format("is no TOML: {}", e.description())};
  }
}

Truth drawn_truth(const car::Sheet& sheet, std::uint64_t seed) {
  auto truth = read(toml::table{}, "", sheet, seed);
  EXPECTS(truth.ok());
  return std::move(*truth);
}

std::string truth_out(const Truth& truth) {
  std::string text = fmt::format(
      "# The truth of a virtual car. Units stand in the keys; what is left out is drawn.\n"
      "format = \"{}\"\n",
      kFormat);
  std::string_view section;
  for (const Parameter& p : all_parameters()) {
    if (section != p.section) {
      if (!section.empty()) write_lists(text, section, truth);
      section = p.section;
      text += fmt::format("\n[{}]\n", section);
    }
    text += fmt::format("{} = {}\n", p.key, shown(p, p.get(truth)));
  }
  write_lists(text, section, truth);
  return text;
}

}  // namespace fuelwright::sim::virtual_car
