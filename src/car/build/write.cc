#include <fmt/format.h>

#include "car/build/internal/exact.h"
#include "car/build/internal/shown.h"
#include "car/build/sheet_file.h"

namespace fuelwright::car {

std::string quoted(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\') {
      out += '\\';
      out += c;
    } else if (byte < 0x20 || byte == 0x7f) {
      out += fmt::format("\\u{:04X}", byte);
    } else {
      out += c;
    }
  }
  return out + '"';
}

namespace {

std::string with_unit(const InUnit& number) {
  return number.unit.empty() ? number.number : number.number + " " + number.unit;
}

// A mixture on the scale it was stated on; the reader's own formulas, so that it reads back
// exactly.
std::string mixture_text(const Held& held, const MixtureScale& scale) {
  const double l = held.numbers[0];
  const bool inverse = scale.kind() == ScaleKind::equivalence;
  const auto reading = exact_text(scale.to_reading(lambda(l)), l,
                                  [&](double x) { return inverse ? 1 / x : x / scale.constant(); });
  const double slope = inverse ? l * l : 1 / scale.constant();
  const auto tolerance =
      exact_text(held.tolerance / slope, held.tolerance, [&](double x) { return x * slope; });
  return quoted(fmt::format("{} +- {}",
                            reading.value_or(fmt::format("{}", scale.to_reading(lambda(l)))),
                            tolerance.value_or(fmt::format("{}", held.tolerance / slope))));
}

std::string number_text(const Key& key, const Held& held, const Sheet& sheet) {
  if (key.mixture) return mixture_text(held, sheet.wishes.scale.value);
  const Kind kind = kind_of(key, sheet);
  const InUnit value = exact_in_unit(held.numbers[0], kind);
  if (kind == Kind::count && held.tolerance == 0) return value.number;
  return quoted(with_unit(value) + " +- " +
                with_unit(exact_step(held.tolerance, kind, value.unit)));
}

// The parts of a list's inline table: values, unit, tolerance.
std::string list_parts(const Key& key, const Held& held, const Sheet& sheet) {
  const Kind kind = kind_of(key, sheet);
  const auto same = exact_list(held.numbers, kind);
  std::string out = "values = [";
  for (std::size_t i = 0; i < held.numbers.size(); ++i) {
    if (i > 0) out += ", ";
    out += same ? (*same)[i].number : quoted(with_unit(exact_in_unit(held.numbers[i], kind)));
  }
  out += "]";
  if (same && !same->empty() && !same->front().unit.empty())
    out += ", unit = " + quoted(same->front().unit);
  if (held.tolerance > 0) {
    const auto percent =
        exact_text(held.tolerance * 100, held.tolerance, [](double x) { return x * 0.01; });
    out += ", tolerance = " + quoted(percent ? *percent + " %" : fmt::format("{}", held.tolerance));
  }
  return out;
}

std::string parts(const Key& key, const Held& held, const Sheet& sheet) {
  if (key.at.form == Form::numbers) return list_parts(key, held, sheet);
  if (key.at.form == Form::number) return "value = " + number_text(key, held, sheet);
  return "value = " + quoted(held.text);
}

// A filled-in value as a comment: a person may uncomment it, so it has the form of a given one,
// rounded.
std::string suggestion(const Key& key, const Held& held, const Sheet& sheet) {
  const Kind kind = kind_of(key, sheet);
  const bool bare = kind == Kind::count || kind == Kind::ratio;
  if (key.at.form == Form::text || key.at.form == Form::choice) return quoted(held.text);
  const auto one = [&](double si) {
    if (key.mixture) return fmt::format("{:.3g}", sheet.wishes.scale.value.to_reading(lambda(si)));
    const std::string text = shown(si, key, sheet, UnitSystem::metric);
    return bare && !text.ends_with("%") ? text : quoted(text);
  };
  if (key.at.form == Form::number) return one(held.numbers[0]);
  std::string out = "[";
  for (const double si : held.numbers) out += (out.size() > 1 ? ", " : "") + one(si);
  return out + "]";
}

void write_key(std::string& out, const Key& key, std::size_t index, const Sheet& sheet) {
  const Held held = key.at.get(sheet, index);
  if (held.source == Source::typical || held.source == Source::computed) {
    out += fmt::format("# {} = {}  # {}: {}\n", key.key, suggestion(key, held, sheet),
                       name_of(held.source), held.reason);
    return;
  }
  out += fmt::format("{} = {{ {}, source = \"{}\"", key.key, parts(key, held, sheet),
                     name_of(held.source));
  if (!held.reason.empty()) out += ", note = " + quoted(held.reason);
  out += " }\n";
}

}  // namespace

std::string write_sheet(const Sheet& sheet) {
  std::string out =
      "# Build sheet. Lines that begin with # are filled in from the spread of such engines: take "
      "the mark away and\n"
      "# put your own value. A value may carry its tolerance (\"10.2 +- 0.2\") and its source "
      "(measured or stated).\n";
  const auto sensors = [&] {
    for (std::size_t i = 0; i < sheet.sensors.mixture.size(); ++i) {
      out += "\n[[sensors.mixture]]\n";
      for (const Key& key : sensor_keys()) write_key(out, key, i, sheet);
    }
  };
  std::string section;
  for (const Key& key : all_keys()) {
    if (section != key.section) {
      if (section == "sensors") sensors();
      section = key.section;
      out += fmt::format("\n[{}]\n", section);
    }
    write_key(out, key, 0, sheet);
  }
  return out;
}

}  // namespace fuelwright::car
