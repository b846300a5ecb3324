#include "car/build/internal/read_value.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fuelwright::car {
namespace {

constexpr double kLimitSlack = 1e-9;  // relative: a limit typed in another unit
constexpr std::size_t kLongestText = 200;
constexpr std::size_t kLongestList = 64;

const char* type_text(const toml::node& node) {
  if (node.is_string()) return "a text";
  if (node.is_boolean()) return "true or false";
  if (node.is_array()) return "a list";
  if (node.is_table()) return "a table";
  return node.is_number() ? "a number" : "a date or time";
}

Result<std::string> string_of(const toml::node& node, std::string_view what) {
  if (const auto text = node.value_exact<std::string>()) return *text;
  return Error{ErrorCode::bad_input, "",
               fmt::format("{} is {}; expected a text in quotes", what, type_text(node))};
}

// A number or a text as text, and how to show it in a message.
struct Shown {
  std::string text;
  std::string shown;
  bool bare;
};
Result<Shown> shown_of(const toml::node& node) {
  if (const auto text = node.value_exact<std::string>())
    return Shown{*text, "\"" + *text + "\"", false};
  if (const auto whole = node.value_exact<int64_t>()) {
    return Shown{std::to_string(*whole), std::to_string(*whole), true};
  }
  if (const auto number = node.value_exact<double>()) {
    if (!std::isfinite(*number))
      return Error{ErrorCode::bad_input, "", fmt::format("{} is not a number", *number)};
    return Shown{fmt::format("{}", *number), fmt::format("{}", *number), true};
  }
  return Error{
      ErrorCode::bad_input, "",
      fmt::format("came {}; expected a number or a text such as \"4.030 in\"", type_text(node))};
}

bool needs_no_unit(Kind kind) { return kind == Kind::ratio || kind == Kind::count; }

// Fuel pressures are differences (across the injector, above the reference) that people write as
// gauge readings.
Result<Measured> parse_tolerant(const std::string& text, Kind kind,
                                std::optional<std::string_view> unit) {
  auto out = parse_number(text, kind, unit);
  if (!out.ok() && kind == Kind::pressure_step) {
    if (auto gauge = parse_number(text, Kind::gauge_pressure, unit); gauge.ok()) return gauge;
  }
  return out;
}

Result<Measured> parse_shown(const Shown& in, Kind kind, const Written& written) {
  std::optional<std::string_view> unit;
  if (!written.unit.empty()) unit = written.unit;
  if (in.bare && !unit && !needs_no_unit(kind)) {
    return Error{ErrorCode::unknown_unit, "",
                 fmt::format("{} needs a unit, in quotes: {} in {}", in.shown, describe(kind),
                             units_of(kind))};
  }
  return parse_tolerant(in.text, kind, unit);
}

double default_tolerance(const Key& key, Kind kind, double si) {
  if (key.by_load_axis) return 0;
  const double step = step_to_si(key.tolerance.step, kind, key.unit);
  return std::max(key.tolerance.share * std::abs(si), step);
}

Status check_limits(const Key& key, Kind kind, double si, const std::string& shown,
                    const Sheet& sheet) {
  if (key.by_load_axis) return Done{};  // the axis checks itself
  const double low = to_si(key.low, kind, key.unit);
  const double high = to_si(key.high, kind, key.unit);
  const double slack = kLimitSlack * (std::abs(low) + std::abs(high));
  if (si >= low - slack && si <= high + slack) return Done{};
  return Error{ErrorCode::out_of_range, "",
               fmt::format("{} is outside {}", shown, limits_text(key, sheet))};
}

// A tolerance wider than everything the key can be says nothing.
Status check_tolerance(const Key& key, Kind kind, double tolerance, const std::string& shown,
                       const Sheet& sheet) {
  if (tolerance <= step_to_si(key.high - key.low, kind, key.unit) * (1 + kLimitSlack))
    return Done{};
  return Error{ErrorCode::out_of_range, "",
               fmt::format("the tolerance of {} is wider than {}", shown, limits_text(key, sheet))};
}

// "10.2" with tolerance = "0.2" beside it in the inline table.
Result<Measured> with_tolerance(Measured value, Kind kind, const Written& written,
                                const std::string& text) {
  if (written.tolerance.empty()) return value;
  if (value.tolerance) {
    return Error{ErrorCode::conflict, "",
                 fmt::format("\"{}\" has a tolerance and \"tolerance\" gives another", text)};
  }
  std::optional<std::string_view> unit;
  if (!written.unit.empty()) unit = written.unit;
  return parse_tolerant(text + " +- " + written.tolerance, kind, unit);
}

// A mixture reading becomes lambda; its tolerance follows the slope d lambda / d reading.
Result<Measured> as_lambda(Measured reading, const Sheet& sheet) {
  const MixtureScale& scale = sheet.wishes.scale.value;
  FW_TRY(const Lambda l, scale.to_lambda(reading.si));
  const double slope =
      scale.kind() == ScaleKind::equivalence ? l.value * l.value : 1 / scale.constant();
  if (reading.tolerance) *reading.tolerance *= slope;
  reading.si = l.value;
  return reading;
}

std::string mixture_shown(const std::string& shown, const Sheet& sheet, double l) {
  const MixtureScale& scale = sheet.wishes.scale.value;
  if (scale.kind() == ScaleKind::lambda) return fmt::format("{} on the lambda scale", shown);
  return fmt::format("{}, lambda {:.3f} on {},", shown, l, scale.label());
}

Result<Held> read_number(const Key& key, const Written& written, const Sheet& sheet) {
  const Kind kind = kind_of(key, sheet);
  FW_TRY(Shown in, shown_of(*written.value));
  if (key.other_form != nullptr) {
    if (const auto si = key.other_form(in.text)) {
      FW_CHECK(check_limits(key, kind, *si, in.shown, sheet));
      const std::string note = in.text + (written.note.empty() ? "" : "; " + written.note);
      return Held{{*si}, default_tolerance(key, kind, *si), "", written.source, note};
    }
  }
  FW_TRY(Measured value, parse_shown(in, kind, written));
  FW_TRY(value, with_tolerance(value, kind, written, in.text));
  if (key.mixture) {
    FW_TRY(value, as_lambda(value, sheet));
    in.shown = mixture_shown(in.shown, sheet, value.si);
  }
  FW_CHECK(check_limits(key, kind, value.si, in.shown, sheet));
  const double tolerance = value.tolerance.value_or(default_tolerance(key, kind, value.si));
  FW_CHECK(check_tolerance(key, kind, tolerance, in.shown, sheet));
  return Held{{value.si}, tolerance, "", written.source, written.note};
}

// "1-8-4-3-6-5-7-2" for a list of whole numbers.
Result<std::vector<double>> read_dashed(const std::string& text) {
  std::vector<double> out;
  std::size_t from = 0;
  while (from <= text.size()) {
    const auto to = std::min(text.find_first_of("-, ", from), text.size());
    const auto number = parse_double(std::string_view(text).substr(from, to - from));
    if (!number || *number != std::floor(*number)) {
      return Error{ErrorCode::bad_input, "",
                   fmt::format("\"{}\" is no list of whole numbers such as \"1-3-4-2\"", text)};
    }
    out.push_back(*number);
    from = to + 1;
  }
  return out;
}

Result<std::vector<double>> read_entries(const Key& key, const toml::array& list, Kind kind,
                                         const Written& written, const Sheet& sheet) {
  std::vector<double> out;
  for (const toml::node& node : list) {
    const auto in_entry = [&](const Error& e) {
      return Error{e.code, "", fmt::format("entry {}: {}", out.size() + 1, e.message)};
    };
    auto in = shown_of(node);
    if (!in) return in_entry(in.error());
    auto value = parse_shown(*in, kind, written);
    if (!value) return in_entry(value.error());
    if (value->tolerance) {
      return in_entry(
          {ErrorCode::bad_input, "",
           "a list has one tolerance for all: { values = [...], tolerance = \"2 %\" }"});
    }
    if (auto ok = check_limits(key, kind, value->si, in->shown, sheet); !ok)
      return in_entry(ok.error());
    out.push_back(value->si);
  }
  return out;
}

Result<Held> read_numbers(const Key& key, const Written& written, const Sheet& sheet) {
  const Kind kind = kind_of(key, sheet);
  Held out{{}, key.tolerance.share, "", written.source, written.note};
  if (const toml::array* list = written.value->as_array()) {
    if (list->size() > kLongestList) {
      return Error{ErrorCode::too_large, "",
                   fmt::format("{} entries; at most {} are taken", list->size(), kLongestList)};
    }
    FW_TRY(out.numbers, read_entries(key, *list, kind, written, sheet));
  } else if (const auto text = written.value->value_exact<std::string>();
             text && kind == Kind::count) {
    FW_TRY(out.numbers, read_dashed(*text));
    for (const double n : out.numbers)
      FW_CHECK(check_limits(key, kind, n, fmt::format("{}", n), sheet));
  } else {
    return Error{ErrorCode::bad_input, "",
                 fmt::format("came {}; expected a list such as [\"0.1 in\", \"0.2 in\"]",
                             type_text(*written.value))};
  }
  if (out.numbers.empty()) return Error{ErrorCode::bad_input, "", "the list is empty"};
  if (!written.tolerance.empty()) {
    FW_TRY(const Measured share, parse_number(written.tolerance, Kind::ratio));
    if (!(share.si >= 0 && share.si <= 1)) {
      return Error{ErrorCode::out_of_range, "",
                   fmt::format("tolerance \"{}\" is outside 0 to 100 %", written.tolerance)};
    }
    out.tolerance = share.si;
  }
  return out;
}

std::string choices_text(const Key& key) {
  std::string out;
  for (const char* choice : key.choices) out += (out.empty() ? "" : ", ") + std::string(choice);
  return out;
}

Result<Held> read_text(const Key& key, const Written& written) {
  FW_TRY(std::string text, string_of(*written.value, key.key));
  if (text.empty() || text.size() > kLongestText) {
    return Error{
        ErrorCode::out_of_range, "",
        fmt::format("a text of {} characters; expected 1 to {}", text.size(), kLongestText)};
  }
  if (!written.unit.empty() || !written.tolerance.empty()) {
    return Error{ErrorCode::bad_input, "",
                 fmt::format("{} has neither unit nor tolerance", key.key)};
  }
  if (key.check_text != nullptr) FW_CHECK(key.check_text(text));
  if (key.at.form == Form::choice) {
    const std::vector<std::string> known(key.choices.begin(), key.choices.end());
    if (std::find(known.begin(), known.end(), text) == known.end()) {
      const auto near = nearest(text, known);
      return Error{ErrorCode::bad_input, "",
                   fmt::format("\"{}\" is none of {}{}", text, choices_text(key),
                               near ? fmt::format("; did you mean \"{}\"?", *near) : "")};
    }
  }
  return Held{{}, 0, text, written.source, written.note};
}

Status set_source(Written& out, const toml::node& node) {
  FW_TRY(const std::string text, string_of(node, "source"));
  if (text == "measured") {
    out.source = Source::measured;
  } else if (text != "stated") {
    return Error{ErrorCode::bad_input, "",
                 fmt::format("source \"{}\" is neither \"measured\" nor \"stated\"; typical values "
                             "are filled in for keys "
                             "that are left out",
                             text)};
  }
  return Done{};
}

Status set_part(Written& out, std::string_view name, const toml::node& node) {
  if (name == "value" || name == "values") {
    if (out.value != nullptr)
      return Error{ErrorCode::conflict, "", "value and values are both given"};
    out.value = &node;
    return Done{};
  }
  if (name == "source") return set_source(out, node);
  if (name == "note") {
    FW_TRY(out.note, string_of(node, "note"));
    return Done{};
  }
  if (name == "unit") {
    FW_TRY(out.unit, string_of(node, "unit"));
    return Done{};
  }
  if (name == "tolerance") {
    FW_TRY(const Shown shown, shown_of(node));
    out.tolerance = shown.text;
    return Done{};
  }
  const auto near = nearest(name, {"value", "values", "source", "note", "unit", "tolerance"});
  return Error{
      ErrorCode::bad_input, "",
      fmt::format("unknown part \"{}\" (known: value, values, unit, tolerance, source, note){}",
                  name, near ? fmt::format("; did you mean \"{}\"?", *near) : "")};
}

}  // namespace

Result<Written> unwrap(const toml::node& node) {
  Written out;
  const toml::table* table = node.as_table();
  if (table == nullptr) {
    out.value = &node;
    return out;
  }
  for (const auto& [name, part] : *table) FW_CHECK(set_part(out, name.str(), part));
  if (out.value == nullptr)
    return Error{ErrorCode::bad_input, "", "a table without value; expected { value = ... }"};
  return out;
}

Result<Held> read_held(const Key& key, const Written& written, const Sheet& sheet) {
  if (key.at.form == Form::number) return read_number(key, written, sheet);
  if (key.at.form == Form::numbers) return read_numbers(key, written, sheet);
  return read_text(key, written);
}

Result<InjectorFlow> read_injector_flow(const Written& written, const Sheet& sheet) {
  FW_TRY(const Shown in, shown_of(*written.value));
  InjectorFlow out;
  std::string flow = in.text;
  std::size_t cut = flow.find('@');
  std::size_t skip = 1;
  if (cut == std::string::npos) {
    cut = flow.find(" at ");
    skip = 4;
  }
  if (cut != std::string::npos) {
    const toml::value<std::string> pressure(flow.substr(cut + skip));
    FW_TRY(out.pressure, read_held(key_at("injection.injector_pressure"),
                                   {&pressure, written.source, written.note, "", ""}, sheet));
    out.has_pressure = true;
    flow.resize(cut);
  }
  out.as_written = flow.substr(0, flow.find_last_not_of(' ') + 1);
  const Key& key = key_at("injection.injector_flow");
  const toml::value<std::string> text(out.as_written);
  Written part{&text, written.source, written.note, written.unit, written.tolerance};
  if (auto mass = read_held(key, part, sheet); mass.ok()) {
    out.flow = *mass;
    return out;
  } else if (mass.error().code == ErrorCode::out_of_range &&
             parse_number(out.as_written, Kind::mass_flow, "g/s").ok()) {
    return mass.error();
  }
  std::optional<std::string_view> unit;
  if (!written.unit.empty()) unit = written.unit;
  auto volume = parse_number(out.as_written, Kind::volume_flow, unit);
  if (volume.ok()) volume = with_tolerance(*volume, Kind::volume_flow, part, out.as_written);
  if (!volume) {
    return Error{
        volume.error().code, "",
        fmt::format(
            "\"{}\" is no injector flow; expected a mass flow ({}) or a volume flow ({}), such as "
            "\"36 lb/h at 43.5 psi\"",
            in.text, units_of(Kind::mass_flow), units_of(Kind::volume_flow))};
  }
  out.by_volume = true;
  out.flow = {{volume->si},
              volume->tolerance.value_or(key.tolerance.share * volume->si),
              "",
              written.source,
              written.note};
  return out;
}

}  // namespace fuelwright::car
