/// The one table of the sheet's keys: section, key, kind of number, unit and limits, default
/// tolerance, where it lives in Sheet, and the rule that fills it. Reader, writer, describe() and
/// the questions all walk this table, so that they cannot drift apart.
#pragma once

#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/units/number.h"
#include "car/build/sheet.h"

namespace fuelwright::car {

enum class Form { number, numbers, choice, text };

/// One key's content without its type: numbers in SI.
struct Held {
  std::vector<double> numbers;  ///< one for Form::number
  double tolerance = 0;         ///< SI step; for Form::numbers a share
  std::string text;             ///< choice or text
  Source source = Source::typical;
  std::string reason;
};

/// What a rule may look at: the sheet as filled so far, and which keys were given.
struct Filling {
  const Sheet& sheet;
  const std::set<std::string>& given;
  bool has(const char* path) const { return given.contains(path); }
};

/// A rule's answer, in the key's own unit (Key::unit); reasons are shown to people.
struct Guess {
  std::vector<double> values;
  double tolerance = 0;  ///< in the key's unit; for lists a share
  std::string text;
  std::string reason;
  Source source = Source::typical;
};
inline Guess guess(double value, double tolerance, std::string reason) {
  return {{value}, tolerance, "", std::move(reason), Source::typical};
}
inline Guess computed(double value, double tolerance, std::string reason) {
  return {{value}, tolerance, "", std::move(reason), Source::computed};
}
inline Guess guess_text(std::string text, std::string reason) {
  return {{}, 0, std::move(text), std::move(reason), Source::typical};
}
inline Guess guess_list(std::vector<double> values, double share, std::string reason) {
  return {std::move(values), share, "", std::move(reason), Source::typical};
}

/// Where a key lives: reads and writes one field; `index` chooses the mixture sensor, otherwise it
/// is ignored.
struct Binding {
  Form form;
  Held (*get)(const Sheet&, std::size_t index);
  void (*set)(Sheet&, std::size_t index, const Held&);
};

/// The tolerance of a given value that came without one: the larger of a share of it and an
/// absolute step (key unit).
struct DefaultTolerance {
  double share = 0;
  double step = 0;
};

struct Key {
  const char* section;
  const char* key;
  const char* about;  ///< for people and for the comments of a written sheet
  Binding at;
  Kind kind = Kind::ratio;
  const char* unit = "";  ///< of the limits, the default tolerance and the rule
  double low = 0;
  double high = 0;
  DefaultTolerance tolerance{};
  Guess (*typical)(const Filling&) = nullptr;  ///< none: required, or asked for
  std::span<const char* const> choices{};
  Status (*check_text)(std::string_view) = nullptr;
  const char* us = "";  ///< shown to people who read U.S. units; empty: the kind's own
  std::optional<double> (*other_form)(std::string_view) =
      nullptr;                ///< another way to write it, to SI
  bool mixture = false;       ///< the number is a reading on wishes.scale; limits are lambda
  bool by_load_axis = false;  ///< kind and unit follow wishes.load_axis

  std::string path() const { return std::string(section) + "." + key; }
};

/// Every key outside [[sensors.mixture]], in the order of filling and of writing.
std::span<const Key> all_keys();
/// The keys of one [[sensors.mixture]].
std::span<const Key> sensor_keys();
const Key& key_at(std::string_view path);
/// The kind and unit of this key in this sheet (load points depend on the load axis).
Kind kind_of(const Key& key, const Sheet& sheet);
std::string unit_of(const Key& key, const Sheet& sheet);
/// The unit in which a value of this key is shown to a person.
std::string shown_unit(const Key& key, const Sheet& sheet, UnitSystem system);
/// SI of a value in the key's unit, and of a step in it.
double to_si(double value, Kind kind, std::string_view unit);
double step_to_si(double step, Kind kind, std::string_view unit);
/// "40 to 200 mm".
std::string limits_text(const Key& key, const Sheet& sheet);

// What several of the parts ask.
bool two_valves(const Sheet& sheet);
/// Errors: those of MixtureScale::parse().
Status known_scale(std::string_view text);

// The parts of the table, one file each.
std::span<const Key> engine_keys();  ///< engine, heads
std::span<const Key> cam_keys();     ///< cam
std::span<const Key> pipe_keys();    ///< intake, exhaust
std::span<const Key> feed_keys();    ///< injection, ignition, fuel
std::span<const Key> supply_keys();  ///< supply
std::span<const Key> road_keys();    ///< sensors, car, place
std::span<const Key> wish_keys();    ///< wishes

/// What wires and contacts of this sheet lose at the pumps' rated current, in volts; given keys as
/// given, the others typical. For injection.pump_wiring_drop, which is filled before them.
Guess drop_from_wires(const Filling& filling);

}  // namespace fuelwright::car
