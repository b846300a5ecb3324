/// Rules of the guard: what is watched, from which value on, for how long, and what to do then.
/// Plain data with units, kept in the job.
///
///   Rules rules = safe_rules(sheet);
///   rules.of(RuleKind::coolant).limit = celsius(105).from_zero.si;
///   FW_CHECK(validate(rules));
///   const std::string text = write_rules_json(rules);      // and read_rules_json() back
///
/// Defaults are common practice of the trade, no source; internal table in rules.cc.
#pragma once

#include <array>
#include <span>
#include <string>
#include <string_view>

#include "base/result.h"
#include "base/units/number.h"
#include "base/units/quantity.h"
#include "car/build/sheet.h"

namespace fuelwright::advice {

enum class RuleKind {
  lean_under_load,  ///< lambda above the limit while manifold pressure is above `while_above` [Pa]
  knock,            ///< spark taken back by the unit for knock [rad], or events counted in a row
  fuel_pressure,    ///< rail under what is asked of it, share of the regulator's pressure [-]
  duty,             ///< share of time that the injectors are open [-]
  coolant,          ///< [K]
  oil_pressure,     ///< gauge pressure below the limit at 1000 rpm, in proportion to speed up to
                    ///< `while_above` [rpm] [Pa]
  intake_temperature,  ///< [K]
  battery_low,         ///< engine running [V]
  battery_high,        ///< engine running [V]
  overspeed,           ///< [rpm]
  over_pressure,       ///< manifold, absolute [Pa]
  sensor_fault,        ///< a reading that cannot be; no limit of its own
  sensor_lost,         ///< no reading for the dwell; no limit of its own
};
inline constexpr int kRules = 13;

/// One rule. limit and back_by are in the SI unit of its kind (engine speed in rpm), see RuleWords.
struct Rule {
  RuleKind kind = RuleKind::lean_under_load;
  bool on = true;
  double limit = 0;
  double back_by = 0;      ///< ends only when the value is back inside by this (hysteresis)
  double while_above = 0;  ///< condition of some rules, in the unit of RuleWords::condition
  Duration dwell{};        ///< so long the limit must be broken
  Duration settled{};      ///< so long the condition must have held: the reading is that old
  friend bool operator==(const Rule&, const Rule&) = default;
};

struct RuleWords {
  RuleKind kind;
  const char* name;         ///< "lean_under_load", in JSON
  const char* label;        ///< "lean under load", for people
  const char* instruction;  ///< what the driver is to do, at once
  bool bounded;             ///< has a limit of its own
  bool below;               ///< fires under the limit, not over it
  Kind unit;                ///< of limit
  Kind step;                ///< of back_by
  bool conditional;         ///< has while_above
  Kind condition;           ///< of while_above
  double lowest, highest;   ///< of limit
};
std::span<const RuleWords> all_rules();
const RuleWords& words_of(RuleKind kind);

struct Rules {
  std::array<Rule, kRules> list{};  ///< one of each kind, in the order of RuleKind
  Rule& of(RuleKind kind) { return list[static_cast<std::size_t>(kind)]; }
  const Rule& of(RuleKind kind) const { return list[static_cast<std::size_t>(kind)]; }
  friend bool operator==(const Rules&, const Rules&) = default;
};

/// Lambda 0.92 above 90 kPa for 0.3 s, rail 10 % under for 0.2 s, coolant 110 degC, duty 90 %,
/// under 12.0 V or over 15.2 V; overspeed and over-pressure by the sheet's rev limit and place.
Rules safe_rules(const car::Sheet& sheet);
/// Errors: out_of_range naming the rule, what came and what is allowed.
Status validate(const Rules& rules);

/// {"format":"fuelwright guard rules
/// 1","rules":[{"rule":"coolant","on":true,"limit":{"value":383.15, "unit":"K"},...}]}, shortest
/// digits that read back to the same double.
std::string write_rules_json(const Rules& rules);
/// Rules that the text leaves out are those of `otherwise`. Other units of the same kind are read.
/// Errors: bad_input, unknown_unit, out_of_range; too_large (over 64 KiB).
Result<Rules> read_rules_json(std::string_view text, const Rules& otherwise);

}  // namespace fuelwright::advice
