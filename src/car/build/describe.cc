#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "car/build/internal/shown.h"
#include "car/build/sheet_file.h"

namespace fuelwright::car {
namespace {

using Given = std::set<std::string>;

Given given_of(const Sheet& sheet) {
  Given out;
  for (const Key& key : all_keys()) {
    const Source source = key.at.get(sheet, 0).source;
    if (source == Source::measured || source == Source::stated) out.insert(key.path());
  }
  return out;
}

// Two of displacement, bore and stroke give the third: one of two cannot be left out.
bool size_hangs_on(const Key& key, const Given& given) {
  const Given size{"engine.displacement", "engine.bore", "engine.stroke"};
  return size.contains(key.path()) &&
         std::ranges::count_if(size, [&](const auto& k) { return given.contains(k); }) < 3;
}

std::optional<double> usual_tolerance(const Key& key, const Held& held, const Sheet& sheet,
                                      const Given& given) {
  if (key.at.form != Form::number && key.at.form != Form::numbers) return std::nullopt;
  if (held.source == Source::typical || held.source == Source::computed) return held.tolerance;
  if (key.typical == nullptr || size_hangs_on(key, given)) return std::nullopt;
  Given others = given;
  others.erase(key.path());
  const double tolerance = key.typical({sheet, others}).tolerance;
  if (key.at.form == Form::numbers) return tolerance;
  return step_to_si(tolerance, kind_of(key, sheet), unit_of(key, sheet));
}

Line line_of(const Key& key, std::size_t index, const std::string& section, const Sheet& sheet,
             const Given& given, UnitSystem system) {
  const Held held = key.at.get(sheet, index);
  const Kind kind = kind_of(key, sheet);
  Line line{section,     key.key,     key.about, held.text,    "",
            held.source, held.reason, kind,      held.numbers, held.tolerance};
  if (key.at.form == Form::numbers) {
    line.value = shown_list(held.numbers, key, sheet, system);
    if (held.tolerance > 0) line.tolerance = fmt::format("{:.2g} %", held.tolerance * 100);
  } else if (key.at.form == Form::number) {
    line.value = key.mixture ? format(lambda(held.numbers[0]), sheet.wishes.scale.value)
                             : shown(held.numbers[0], key, sheet, system);
    if (held.tolerance > 0) {
      line.tolerance = key.mixture ? fmt::format("lambda {:.3f}", held.tolerance)
                                   : shown_step(held.tolerance, key, sheet, system);
    }
  }
  line.usual_tolerance_si = usual_tolerance(key, held, sheet, given);
  line.choices.assign(key.choices.begin(), key.choices.end());
  line.allowed = shown_limits(key, sheet, system);
  return line;
}

}  // namespace

std::vector<Line> describe(const Sheet& sheet, UnitSystem system) {
  std::vector<Line> out;
  const Given given = given_of(sheet);
  std::string section;
  const auto sensors = [&] {
    for (std::size_t i = 0; i < sheet.sensors.mixture.size(); ++i) {
      for (const Key& key : sensor_keys()) {
        out.push_back(
            line_of(key, i, fmt::format("sensors.mixture.{}", i + 1), sheet, given, system));
      }
    }
  };
  for (const Key& key : all_keys()) {
    if (section == "sensors" && section != key.section) sensors();
    section = key.section;
    out.push_back(line_of(key, 0, section, sheet, given, system));
  }
  return out;
}

}  // namespace fuelwright::car
