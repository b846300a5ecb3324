#include <fmt/format.h>

#include <cmath>

#include "car/build/internal/read_value.h"
#include "car/build/internal/reading.h"
#include "car/build/sheet_file.h"
#include "car/fuel/fuel.h"

namespace fuelwright::car {
namespace {

constexpr std::size_t kLargestText = 1 << 20;

int line_of(const toml::node& node, int otherwise) {
  const auto line = node.source().begin.line;
  return line > 0 ? static_cast<int>(line) : otherwise;
}
int line_of(const toml::key& key, int otherwise) {
  const auto line = key.source().begin.line;
  return line > 0 ? static_cast<int>(line) : otherwise;
}

std::vector<std::string> keys_of(std::span<const Key> keys, std::string_view section) {
  std::vector<std::string> out;
  for (const Key& key : keys) {
    if (key.section == section) out.emplace_back(key.key);
  }
  return out;
}

std::vector<std::string> section_names() {
  std::vector<std::string> out;
  for (const Key& key : all_keys()) {
    if (std::find(out.begin(), out.end(), key.section) == out.end()) out.emplace_back(key.section);
  }
  return out;
}

// The section that has this key, if another one does.
std::string home_of(std::string_view name) {
  for (const Key& key : all_keys()) {
    if (key.key == name) return key.section;
  }
  return "";
}

void report_unknown_key(Reading& r, int line, const std::string& section, const std::string& name,
                        const std::vector<std::string>& known) {
  std::string hint;
  if (const auto near = nearest(name, known)) {
    hint = fmt::format("; did you mean \"{}\"?", *near);
  } else if (const std::string home = home_of(name); !home.empty()) {
    hint = fmt::format("; it belongs to [{}]", home);
  } else {
    hint = "; known: ";
    for (const std::string& k : known) hint += (&k == known.data() ? "" : ", ") + k;
  }
  r.report_at(line, section + "." + name, ErrorCode::bad_input, "unknown key" + hint);
}

// Names with control characters or of great length would spoil the one line of a message.
std::string printable(std::string_view name) {
  std::string out;
  for (const char c : name.substr(0, 60))
    out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? '?' : c;
  return out;
}

void check_names(Reading& r, const toml::table& table, const std::string& section,
                 std::span<const Key> keys) {
  const auto known =
      keys_of(keys, section.starts_with("sensors.mixture") ? "sensors.mixture" : section);
  for (const auto& [name, node] : table) {
    const std::string text(name.str());
    const bool sensors = section == "sensors" && text == "mixture";
    if (sensors || std::find(known.begin(), known.end(), text) != known.end()) continue;
    report_unknown_key(r, line_of(name, line_of(node, 1)), section, printable(text), known);
  }
}

void store(Reading& r, const Key& key, std::size_t index, const std::string& path, Held held) {
  if (path == "fuel.name") held.text = fuel_named(held.text).value().name;
  key.at.set(r.sheet, index, held);
  r.given.insert(path);
}

// The flow, and the pressure if it was stated with it. A volume flow waits for the rated fluid:
// finish_flow().
std::optional<InjectorFlow> read_flow(Reading& r, const toml::node& node) {
  const std::string path = "injection.injector_flow";
  auto written = unwrap(node);
  auto flow =
      written ? read_injector_flow(*written, r.sheet) : Result<InjectorFlow>(written.error());
  if (!flow) {
    r.report(path, flow.error().code, flow.error().message);
    return std::nullopt;
  }
  if (flow->has_pressure) {
    const std::string pressure = "injection.injector_pressure";
    if (r.has(pressure) || r.lines.contains(pressure)) {
      r.report(pressure, ErrorCode::conflict, "is stated twice: here and with injector_flow");
    } else {
      r.lines[pressure] = r.lines[path];
      store(r, key_at(pressure), 0, pressure, flow->pressure);
    }
  }
  store(r, key_at(path), 0, path, flow->flow);
  return *flow;
}

// Volume flow times the density of the fluid it was measured with.
void finish_flow(Reading& r, const InjectorFlow& read) {
  const std::string path = "injection.injector_flow";
  const Key& key = key_at(path);
  Held flow = read.flow;
  if (read.by_volume) {
    const Known<Density>& rho = r.sheet.injection.rated_density;
    const double share = std::hypot(flow.tolerance / flow.numbers[0], rho.tolerance / rho.value);
    flow.numbers[0] *= rho.value.si;
    flow.tolerance = share * flow.numbers[0];
    flow.reason += fmt::format("{}{} of a fluid of {:.3g} kg/l", flow.reason.empty() ? "" : "; ",
                               read.as_written, rho.value.in(kg_per_litre));
  }
  if (!(flow.tolerance <= flow.numbers[0])) {
    r.report(path, ErrorCode::out_of_range,
             fmt::format("the tolerance of \"{}\" is wider than the flow", read.as_written));
    return;
  }
  const double shown = flow.numbers[0] / to_si(1, key.kind, key.unit);
  if (!(shown >= key.low && shown <= key.high)) {
    r.report(path, ErrorCode::out_of_range,
             fmt::format("\"{}\" is outside {}", read.as_written, limits_text(key, r.sheet)));
    return;
  }
  key.at.set(r.sheet, 0, flow);
}

void read_key(Reading& r, const Key& key, std::size_t index, const std::string& path,
              const toml::node& node) {
  auto written = unwrap(node);
  auto held = written ? read_held(key, *written, r.sheet) : Result<Held>(written.error());
  if (!held) {
    r.report(path, held.error().code, held.error().message);
    return;
  }
  store(r, key, index, path, std::move(*held));
}

// Mixtures wait for their scale and load points for their axis: without them the number means
// nothing.
bool can_be_read(Reading& r, const Key& key) {
  const char* needed = key.mixture        ? "wishes.scale"
                       : key.by_load_axis ? "wishes.load_axis"
                                          : nullptr;
  if (needed == nullptr || r.has(needed)) return true;
  if (!r.lines.contains(needed)) {  // otherwise it is there but wrong, and has been reported
    r.report(key.path(), ErrorCode::needs_answer,
             key.mixture
                 ? "on which scale? Say wishes.scale = \"lambda\", or \"afr 14.7\" with the "
                   "constant of the "
                   "gauge or table it was stated on (14.7 is common, never assumed)"
                 : "points of what? Say wishes.load_axis = \"map\", \"vacuum\" or \"throttle\"");
  }
  return false;
}

void note_lines(Reading& r, const toml::table& table, const std::string& section, int line) {
  r.lines[section] = line;
  for (const auto& [name, node] : table) {
    r.lines[section + "." + std::string(name.str())] = line_of(name, line_of(node, line));
  }
}

void read_sensors(Reading& r, const toml::table& sensors) {
  const toml::node* node = sensors.get("mixture");
  if (node == nullptr) return;
  const toml::array* list = node->as_array();
  constexpr std::size_t kMostSensors = 16;
  if (list == nullptr || list->size() > kMostSensors) {
    r.report("sensors.mixture", ErrorCode::bad_input,
             fmt::format("expected at most {} sections [[sensors.mixture]]", kMostSensors));
    return;
  }
  for (std::size_t i = 0; i < list->size(); ++i) {
    const std::string section = fmt::format("sensors.mixture.{}", i + 1);
    const toml::table* table = (*list)[i].as_table();
    if (table == nullptr) {
      r.report("sensors.mixture", ErrorCode::bad_input, "expected sections [[sensors.mixture]]");
      return;
    }
    note_lines(r, *table, section, line_of(*table, r.line_of("sensors.mixture")));
    check_names(r, *table, section, sensor_keys());
    r.sheet.sensors.mixture.emplace_back();
    for (const Key& key : sensor_keys()) {
      const std::string path = section + "." + key.key;
      if (const toml::node* value = table->get(key.key)) read_key(r, key, i, path, *value);
      if (std::string_view(key.key) == "scale" && !r.lines.contains(path)) {
        r.report(path, ErrorCode::needs_answer,
                 "is missing: what do its numbers mean? \"lambda\", \"equivalence\", or \"afr "
                 "14.7\" with the constant "
                 "of the instrument (14.7 is common, never assumed)");
      }
    }
  }
}

// Sections and names first, so that every key knows its line.
void check_sections(Reading& r, const toml::table& root) {
  const auto known = section_names();
  for (const auto& [name, node] : root) {
    const std::string section(name.str());
    const int line = line_of(node, line_of(name, 1));
    if (std::find(known.begin(), known.end(), section) == known.end()) {
      const auto near = nearest(section, known);
      r.report_at(
          line_of(name, line), printable(section), ErrorCode::bad_input,
          "unknown section" + (near ? fmt::format("; did you mean [{}]?", *near) : std::string()));
    } else if (const toml::table* table = node.as_table()) {
      note_lines(r, *table, section, line);
      check_names(r, *table, section, all_keys());
    } else {
      r.report_at(line_of(name, line), section, ErrorCode::bad_input,
                  fmt::format("expected a section [{}]", section));
    }
  }
}

void read_tables(Reading& r, const toml::table& root) {
  check_sections(r, root);
  std::optional<InjectorFlow> flow;
  for (const Key& key : all_keys()) {
    const toml::node* node = root[key.section][key.key].node();
    if (node == nullptr) continue;
    if (key.path() == "injection.injector_flow") {
      flow = read_flow(r, *node);
    } else if (!r.has(key.path()) && can_be_read(r, key)) {
      read_key(r, key, 0, key.path(), *node);
    }
  }
  if (const toml::table* sensors = root["sensors"].as_table()) read_sensors(r, *sensors);
  if (!r.problems.empty()) return;
  check_required(r);
  if (!r.problems.empty()) return;
  if (flow && !r.has("injection.rated_density")) {  // the flow waits for this one rule
    const Key& rho = key_at("injection.rated_density");
    const Guess g = rho.typical({r.sheet, r.given});
    rho.at.set(r.sheet, 0,
               {{to_si(g.values[0], rho.kind, rho.unit)},
                step_to_si(g.tolerance, rho.kind, rho.unit),
                "",
                g.source,
                g.reason});
  }
  if (flow) finish_flow(r, *flow);
  fill_typical(r);
  cross_check(r);
}

Reading read_all(std::string_view text, std::string_view file_name) {
  Reading r;
  r.file = std::string(file_name);
  if (text.size() > kLargestText) {
    r.report_at(1, "", ErrorCode::too_large,
                fmt::format("{} bytes; a sheet has at most {}", text.size(), kLargestText));
    return r;
  }
  r.last_line = 1 + static_cast<int>(std::count(text.begin(), text.end(), '\n'));
  try {
    const toml::table root = toml::parse(text);
    read_tables(r, root);
  } catch (const toml::parse_error& e) {  // the TOML library's own way to say "no TOML"
    const int line = static_cast<int>(e.source().begin.line);
    r.report_at(std::max(1, line), "", ErrorCode::bad_input,
                printable(e.description().substr(0, 400)));
  }
  std::stable_sort(r.problems.begin(), r.problems.end(),
                   [](const Problem& a, const Problem& b) { return a.line < b.line; });
  return r;
}

}  // namespace

Result<Sheet> read_sheet(std::string_view toml_text, std::string_view file_name) {
  Reading r = read_all(toml_text, file_name);
  if (!r.problems.empty()) return r.problems.front().error;
  return std::move(r.sheet);
}

std::vector<Error> problems_of(std::string_view toml_text, std::string_view file_name) {
  std::vector<Error> out;
  for (Problem& p : read_all(toml_text, file_name).problems) out.push_back(std::move(p.error));
  return out;
}

}  // namespace fuelwright::car
