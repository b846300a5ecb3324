#include <fmt/format.h>

#include "car/build/internal/shown.h"
#include "car/build/sheet_file.h"

namespace fuelwright::car {
namespace {

Line line_of(const Key& key, std::size_t index, const std::string& section, const Sheet& sheet,
             UnitSystem system) {
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
  return line;
}

}  // namespace

std::vector<Line> describe(const Sheet& sheet, UnitSystem system) {
  std::vector<Line> out;
  std::string section;
  const auto sensors = [&] {
    for (std::size_t i = 0; i < sheet.sensors.mixture.size(); ++i) {
      for (const Key& key : sensor_keys()) {
        out.push_back(line_of(key, i, fmt::format("sensors.mixture.{}", i + 1), sheet, system));
      }
    }
  };
  for (const Key& key : all_keys()) {
    if (section == "sensors" && section != key.section) sensors();
    section = key.section;
    out.push_back(line_of(key, 0, section, sheet, system));
  }
  return out;
}

}  // namespace fuelwright::car
