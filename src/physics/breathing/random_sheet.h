/// Random build sheets as text, for robustness tests and benches only: from engines that could be
/// built to nonsense. The same seed gives the same text on every machine.
///
///   random_sheet_text(seed, Wildness::limits)
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

namespace fuelwright::physics {

enum class Wildness {
  sensible,  ///< five answers and a few parts as engines have them: always a model
  limits,    ///< every key anywhere within the sheet's limits, mostly contradicting each other
  hostile,   ///< the same, with values of no sense: NaN, negative, huge, wrong unit, wrong type
};

namespace random_sheet {

/// splitmix64: small, and the same everywhere (the standard library's distributions are not).
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : state_(seed * 0xD1342543DE82EF95ULL + 0x1234567) {}
  double share() { return static_cast<double>(next() >> 11) * 0x1p-53; }
  double between(double a, double b) { return a + (b - a) * share(); }
  double by_scale(double a, double b) { return a * std::pow(b / a, share()); }
  int whole(int a, int b) { return a + static_cast<int>(share() * (b - a + 1)); }
  bool chance(double p) { return share() < p; }
  template <class T>
  const T& one_of(const std::vector<T>& all) {
    return all[static_cast<std::size_t>(whole(0, static_cast<int>(all.size()) - 1))];
  }

 private:
  std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ULL);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31);
  }
  std::uint64_t state_;
};

struct Number {
  const char* section;
  const char* key;
  const char* unit;         ///< empty: a bare number
  double low, high;         ///< the sheet's limits
  double from = 0, to = 0;  ///< sensible whatever else is said; none if equal
};

inline const std::vector<Number>& numbers() {
  static const std::vector<Number> kAll = {
      {"engine", "bore", "mm", 40, 200},
      {"engine", "stroke", "mm", 30, 200},
      {"engine", "compression", "", 5, 20, 8, 12},
      {"engine", "rod_length", "mm", 50, 400},
      {"heads", "intake_valve", "mm", 10, 90},
      {"heads", "exhaust_valve", "mm", 10, 80},
      {"heads", "flow_depression", "inH2O", 1, 60, 10, 28},
      {"cam", "rocker_ratio", "", 0.8, 2.2},
      {"cam", "exhaust_duration_050", "deg", 150, 340},
      {"cam", "intake_advertised", "deg", 180, 420},
      {"cam", "exhaust_advertised", "deg", 180, 420},
      {"cam", "intake_duration_200", "deg", 20, 290},
      {"cam", "exhaust_duration_200", "deg", 20, 290},
      {"cam", "intake_lift", "mm", 3, 25, 7, 13},
      {"cam", "exhaust_lift", "mm", 3, 25, 7, 13},
      {"cam", "lobe_separation", "deg", 90, 130, 106, 116},
      {"cam", "intake_centreline", "deg", 80, 140},
      {"cam", "intake_lash", "mm", 0, 1.5, 0, 0.5},
      {"cam", "exhaust_lash", "mm", 0, 1.5, 0, 0.5},
      {"intake", "runner_length", "mm", 30, 1500, 120, 600},
      {"intake", "runner_diameter", "mm", 12, 90, 28, 55},
      {"intake", "plenum_volume", "l", 0.005, 30, 0.5, 6},
      {"intake", "throttle_diameter", "mm", 10, 150, 40, 100},
      {"intake", "duct_length", "mm", 10, 3000, 50, 1000},
      {"intake", "duct_diameter", "mm", 15, 500, 50, 110},
      {"exhaust", "primary_length", "mm", 30, 2000, 150, 1000},
      {"exhaust", "primary_diameter", "mm", 10, 90, 28, 55},
      {"exhaust", "secondary_length", "mm", 30, 2000},
      {"exhaust", "secondary_diameter", "mm", 10, 120},
      {"exhaust", "collector_length", "mm", 30, 4000, 150, 1000},
      {"exhaust", "collector_diameter", "mm", 15, 250, 45, 90},
      {"exhaust", "back_pressure", "kPa", 0, 200, 2, 40},
      {"place", "altitude", "m", -400, 5000, 0, 2500},
      {"place", "temperature", "degC", -50, 60, -10, 40},
      {"wishes", "rev_limit", "rpm", 1500, 16000},
      {"wishes", "idle_speed", "rpm", 400, 3000},
  };
  return kAll;
}

struct Choice {
  const char *section, *key;
  std::vector<const char*> names;
};
inline const std::vector<Choice>& choices() {
  static const std::vector<Choice> kAll = {
      {"cam",
       "tappet",
       {"hydraulic_flat", "hydraulic_roller", "solid_flat", "solid_roller", "direct"}},
      {"intake", "arrangement", {"shared_plenum", "two_plane", "individual_throttles"}},
      {"exhaust", "arrangement", {"four_into_one", "log"}},
  };
  return kAll;
}

/// A value that makes no sense, as TOML.
inline std::string nonsense(Dice& dice, const char* unit) {
  static const std::vector<std::string> kBare = {"nan",
                                                 "inf",
                                                 "-inf",
                                                 "\"\"",
                                                 "\"nan mm\"",
                                                 "\"20\"",
                                                 "true",
                                                 "[]",
                                                 "{}",
                                                 "[1, 2, 3]",
                                                 "1e308",
                                                 "\"1e999 mm\"",
                                                 "\"- 5 mm\"",
                                                 "1979-05-27",
                                                 "{ value = \"\", source = \"typical\" }",
                                                 "\"5 mm +- nan\"",
                                                 "\"\\u0007\""};
  if (dice.chance(0.5)) return dice.one_of(kBare);
  const double huge = dice.one_of(std::vector<double>{-300, 0, 1e-30, 20, 40, 1e9, 1e30, -1e-9});
  const char* other = dice.chance(0.3)
                          ? dice.one_of(std::vector<const char*>{"psi", "deg", "kg", "furlong"})
                          : unit;
  return fmt::format("\"{} {}\"", huge, other);
}

inline std::string list_of(Dice& dice, int count, double low, double high, const char* unit,
                           bool rising) {
  std::string out = "{ values = [";
  double value = low;
  for (int i = 0; i < count; ++i) {
    value = rising ? low + (high - low) * (i + dice.share()) / count : dice.between(low, high);
    out += fmt::format("{}{:.6g}", i > 0 ? ", " : "", value);
  }
  return out + fmt::format("], unit = \"{}\" }}", unit);
}

}  // namespace random_sheet

inline std::string random_sheet_text(std::uint64_t seed, Wildness wildness) {
  using namespace random_sheet;
  Dice dice(seed);
  const bool sensible = wildness == Wildness::sensible, hostile = wildness == Wildness::hostile;
  // How often a key is given, and how often that is nonsense; drawn for each sheet, so that some
  // break in one place only and reach far into the model.
  const double given = sensible ? 0.4 : dice.between(0.02, 0.5);
  const double mad = hostile ? dice.by_scale(0.005, 0.3) : 0;
  const int cylinders =
      sensible ? dice.one_of(std::vector<int>{1, 2, 3, 4, 5, 6, 8, 10, 12}) : dice.whole(1, 16);
  const double one_litre = sensible ? dice.between(0.25, 0.85) : dice.by_scale(0.06, 1.2);
  const double duration = sensible ? dice.between(180, 260) : dice.between(150, 330);

  std::vector<std::pair<std::string, std::string>> lines;  // section, line
  const auto say = [&](const char* section, const char* key, const std::string& value,
                       const char* unit) {
    const bool now_mad = dice.chance(mad);
    lines.emplace_back(section,
                       fmt::format("{} = {}\n", key, now_mad ? nonsense(dice, unit) : value));
  };
  const auto says = [&](const std::string& key) {
    return sensible && std::any_of(lines.begin(), lines.end(),
                                   [&](const auto& l) { return l.second.starts_with(key + " "); });
  };
  say("engine", "displacement", fmt::format("\"{:.4f} l\"", std::min(15.0, one_litre * cylinders)),
      "l");
  say("engine", "cylinders", fmt::format("{}", cylinders), "");
  say("cam", "intake_duration_050", fmt::format("\"{:.1f} deg\"", duration), "deg");
  say("injection", "injector_flow", "\"36 lb/h at 43.5 psi\"", "lb/h");
  say("fuel", "name",
      dice.one_of(std::vector<std::string>{"\"E10\"", "\"petrol\"", "\"E85\"", "\"methanol\""}),
      "");
  for (const Number& n : numbers()) {
    if (!dice.chance(given) || (sensible && n.from == n.to)) continue;
    const double value = sensible ? dice.between(n.from, n.to) : dice.between(n.low, n.high);
    say(n.section, n.key,
        *n.unit == '\0' ? fmt::format("{:.6g}", value)
                        : fmt::format("\"{:.6g} {}\"", value, n.unit),
        n.unit);
  }
  for (const Choice& c : choices()) {
    if (dice.chance(given)) say(c.section, c.key, fmt::format("\"{}\"", dice.one_of(c.names)), "");
  }
  if (!says("runner_length") && dice.chance(given)) {
    const int count = hostile && dice.chance(0.2) ? dice.whole(0, 20) : cylinders;
    say("intake", "runner_lengths",
        sensible ? list_of(dice, count, 200, 500, "mm", false)
                 : list_of(dice, count, 30, 1500, "mm", false),
        "mm");
  }
  if (!sensible && dice.chance(given))
    say("heads", "valves_per_cylinder", fmt::format("{}", dice.whole(2, 5)), "");
  if (!sensible && dice.chance(given)) {
    const int count = dice.whole(1, 8);
    say("heads", "flow_lift",
        list_of(dice, count, 0.1, dice.between(1, 30), "mm", dice.chance(0.9)), "mm");
    say("heads", "flow_depression", "\"28 inH2O\"", "inH2O");
    say("heads", "flow_intake",
        list_of(dice, count, 0.5, dice.by_scale(5, 1000), "cfm", dice.chance(0.7)), "cfm");
  }
  std::string out, last;
  for (const char* section :
       {"engine", "heads", "cam", "intake", "exhaust", "injection", "fuel", "place", "wishes"}) {
    bool open = false;
    for (const auto& [where, line] : lines) {
      if (where != section) continue;
      if (!open) out += fmt::format("[{}]\n", section);
      open = true;
      // A key drawn twice is one: the TOML library would stop at the second.
      const std::string key = line.substr(0, line.find(' '));
      if (out.find("\n" + key + " =", out.rfind("[" + where + "]\n")) != std::string::npos)
        continue;
      out += line;
    }
  }
  if (hostile && dice.chance(0.02))
    out.resize(static_cast<std::size_t>(dice.share() * static_cast<double>(out.size())));
  return out;
}

}  // namespace fuelwright::physics
