#include "signals/recording/internal/trade_words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cstddef>
#include <optional>

#include "signals/recording/internal/languages.h"

namespace fuelwright::signals {
namespace {

using Q = Quantity;

/// All words must stand in the header (alternatives separated by '/'), in any order. `confidence`
/// holds when they are the whole name. Words are common practice of the trade and the parameter
/// names of SAE J1979.
struct Rule {
  const char* words;
  Quantity what;
  double confidence;
};

constexpr auto kRules = std::to_array<Rule>({
    {"time/timestamp/elapsed/clock", Q::time, 0.9},
    {"log/record/recording/relative/elapsed time", Q::time, 0.92},
    {"t", Q::time, 0.7},
    {"seconds/secs/sec/millis/milliseconds", Q::time, 0.8},
    {"run time", Q::run_time, 0.95},
    {"runtime/uptime", Q::run_time, 0.9},
    {"time since start/started", Q::run_time, 0.93},
    {"time run mil", Q::counter, 0.95},
    {"time since cleared/clear/codes", Q::counter, 0.95},
    {"distance", Q::counter, 0.9},
    {"warm ups/up since/cleared/codes", Q::counter, 0.95},
    {"warm up/ups", Q::warm_up, 0.9},
    {"warmup/wue", Q::warm_up, 0.9},
    {"odometer/mileage/dtc", Q::counter, 0.9},
    {"rpm/rpms/revs/enginespeed/enginerpm", Q::rpm, 0.95},
    {"engine speed", Q::rpm, 0.95},
    {"map/manifoldpressure", Q::map, 0.93},
    {"intake/inlet/manifold/plenum pressure/press", Q::map, 0.94},
    {"manifold vacuum", Q::map, 0.9},
    {"vacuum", Q::map, 0.8},
    {"boost", Q::map, 0.45},
    {"pressure", Q::map, 0.4},
    {"maf/airmass/airflow", Q::maf, 0.94},
    {"air mass", Q::maf, 0.9},
    {"air flow", Q::maf, 0.9},
    {"mass flow", Q::maf, 0.85},
    {"throttle/tps/throttleposition", Q::throttle, 0.94},
    {"throttle b/c/2/second", Q::throttle_other, 0.94},
    {"commanded/target/desired/requested throttle", Q::throttle_other, 0.94},
    {"relative throttle", Q::throttle_other, 0.94},
    {"pedal/accelerator/app", Q::pedal, 0.93},
    {"coolant/clt/ect/cts/coolanttemp", Q::coolant, 0.94},
    {"engine/water temp/temperature", Q::coolant, 0.88},
    {"temp/temperature", Q::coolant, 0.4},
    {"intake/inlet/charge/manifold temp/temperature", Q::intake_air, 0.94},
    {"intake/inlet air", Q::intake_air, 0.76},
    {"iat/mat/act/intaketemp", Q::intake_air, 0.94},
    {"air temp/temperature", Q::intake_air, 0.85},
    {"temp/temperature", Q::intake_air, 0.4},
    {"ambient/outside air/temp/temperature", Q::ambient_air, 0.94},
    {"oil temp/temperature", Q::oil_temperature, 0.94},
    {"catalyst/cat temp/temperature", Q::catalyst_temperature, 0.95},
    {"fuel temp/temperature", Q::other, 0.93},
    {"exhaust/egt/transmission/gearbox temp/temperature", Q::other, 0.93},
    {"egt", Q::other, 0.93},
    {"lambda/wideband/uego/wbo", Q::lambda, 0.93},
    {"afr/afr1", Q::lambda, 0.93},
    {"air fuel ratio", Q::lambda, 0.93},
    {"mixture", Q::lambda, 0.8},
    {"equivalence/phi/equiv", Q::lambda, 0.86},
    {"equivalence/equiv ratio", Q::lambda, 0.9},
    {"ego", Q::lambda, 0.5},
    {"ego", Q::correction, 0.5},
    {"target/desired/setpoint/commanded/requested afr/lambda/mixture", Q::target, 0.95},
    {"target/desired/setpoint/commanded/requested air fuel ratio", Q::target, 0.95},
    {"afrtarget/targetafr/lambdatarget", Q::target, 0.95},
    {"target", Q::target, 0.7},
    {"commanded/command/cmd equiv/equivalence/eq ratio", Q::commanded_ratio, 0.95},
    {"commanded/command/cmd equivalence/equiv", Q::commanded_ratio, 0.92},
    {"ego/lambda/afr/o2/fuel/mixture/loop correction/corr", Q::correction, 0.94},
    {"correction/corr", Q::correction, 0.78},
    {"fuel trim", Q::correction, 0.7},
    {"short trim", Q::short_trim, 0.97},
    {"stft/sft/stft1", Q::short_trim, 0.95},
    {"long trim", Q::long_trim, 0.97},
    {"ltft/lft/ltft1", Q::long_trim, 0.95},
    {"pulse width", Q::pulse_width, 0.95},
    {"pulsewidth/pw/ipw/pw1", Q::pulse_width, 0.93},
    {"injector/injection/inj pulse/time/duration/width/pw", Q::pulse_width, 0.93},
    {"injector/injection/inj", Q::pulse_width, 0.6},
    {"injector/injection/inj", Q::duty, 0.6},
    {"duty/dutycycle", Q::duty, 0.8},
    {"injector/injection/inj duty", Q::duty, 0.95},
    {"battery/batt/vbatt/vbat", Q::battery, 0.93},
    {"battery/batt voltage/volts", Q::battery, 0.95},
    {"module/system/supply/ecu voltage/volts", Q::battery, 0.94},
    {"voltage/volts", Q::battery, 0.6},
    {"vehicle/road/car/wheel/gps/ground speed", Q::speed, 0.95},
    {"speed/vss/kph/mph/kmh/velocity", Q::speed, 0.85},
    {"baro/barometer/barometric", Q::baro, 0.95},
    {"ambient/atmospheric pressure/press", Q::baro, 0.93},
    {"spark/ignition/ign/timing advance/timing/angle", Q::spark, 0.95},
    {"advance/spark/timing", Q::spark, 0.85},
    {"load/calcload", Q::engine_load, 0.9},
    {"engine/calculated load", Q::engine_load, 0.94},
    {"gear", Q::gear, 0.9},
    {"fuel/rail pressure/press", Q::fuel_pressure, 0.94},
    {"fuel flow/rate", Q::fuel_flow, 0.94},
    {"oil pressure/press", Q::other, 0.93},
    {"o2/ego voltage/volts", Q::oxygen_voltage, 0.95},
    {"oxygen", Q::oxygen_voltage, 0.85},
    {"o2", Q::oxygen_voltage, 0.85},
    {"fuel tank/level", Q::fuel_level, 0.94},
    {"purge/evap/evaporative", Q::purge, 0.93},
    {"commanded purge/evap/evaporative", Q::purge, 0.95},
    {"ethanol", Q::ethanol, 0.93},
    {"flex", Q::ethanol, 0.7},
    {"segment/segid/trip/lap/drive", Q::segment, 0.9},
    {"row/index/sample/frame", Q::row_number, 0.85},
});

// Words that say nothing about what is measured.
constexpr auto kNoise = std::to_array<const char*>(
    {"engine",   "sensor",   "value",    "signal",   "channel",  "ch",    "current",
     "actual",   "measured", "ecu",      "obd",      "pid",      "the",   "of",
     "with",     "on",       "in",       "since",    "bank",     "bank1", "bank2",
     "sensor1",  "sensor2",  "b1s1",     "b1s2",     "b2s1",     "b2s2",  "b1",
     "b2",       "s1",       "s2",       "pos",      "position", "temp",  "temperature",
     "manifold", "air",      "fuel",     "absolute", "abs",      "term",  "id",
     "codes",    "trouble",  "traveled", "mass",     "flow",     "rate",  "calculated",
     "intake",   "inlet",    "kpa",      "psi",      "inhg",     "degc",  "degf",
     "deg",      "pct",      "percent",  "perc",     "ms",       "us",    "sec",
     "kmh",      "kph",      "mph",      "volts",    "advance",  "width", "ratio",
     "control",  "reading",  "system",   "vehicle",  "pressure", "gauge", "battery"});

// Words that turn a quantity into another one: the target of it, its limit, its change.
constexpr auto kTurning = std::to_array<const char*>(
    {"target",     "desired", "setpoint",   "commanded",  "requested", "command", "limit",
     "max",        "min",     "error",      "delta",      "dot",       "raw",     "adc",
     "correction", "corr",    "enrichment", "multiplier", "gain",      "idle",    "threshold",
     "offset",     "voltage", "volt",       "count",      "status",    "state",   "mode",
     "accel",      "trim",    "bias",       "table",      "switch",    "oil",     "transmission",
     "cylinder",   "fan",     "pump",       "valve",      "wastegate", "knock"});

template <std::size_t N>
bool contains(const std::array<const char*, N>& list, std::string_view word) {
  return std::ranges::any_of(list, [&](const char* w) { return word == w; });
}

bool is_number(std::string_view word) {
  return std::ranges::all_of(word, [](char c) { return c >= '0' && c <= '9'; });
}

// One letter changed, missing, added or swapped with its neighbour.
bool one_slip(std::string_view a, std::string_view b) {
  if (a.size() > b.size()) std::swap(a, b);
  if (b.size() - a.size() > 1 || a.size() < 4 || a.front() != b.front()) return false;
  std::size_t i = 0;
  while (i < a.size() && a[i] == b[i]) ++i;
  if (a.size() < b.size()) return a.substr(i) == b.substr(i + 1);
  if (i == a.size()) return true;
  if (a.substr(i + 1) == b.substr(i + 1)) return true;
  return i + 1 < a.size() && a[i] == b[i + 1] && a[i + 1] == b[i] &&
         a.substr(i + 2) == b.substr(i + 2);
}

template <class F>
void each_part(std::string_view text, char mark, F f) {
  while (true) {
    const auto at = text.find(mark);
    f(text.substr(0, at));
    if (at == std::string_view::npos) return;
    text.remove_prefix(at + 1);
  }
}

struct Match {
  double confidence = 0;
  std::size_t words = 0;
  std::string note;
};

// "ltft2" -> "ltft": sensors and banks are numbered; "o2" is a word of its own.
std::string_view unnumbered(std::string_view word) {
  if (word.size() > 2 && (word.back() == '1' || word.back() == '2')) word.remove_suffix(1);
  return word;
}

// Where a rule's token stands in the words; npos if nowhere.
std::size_t find_token(std::string_view token, const std::vector<std::string>& words,
                       const std::vector<bool>& used, bool with_slip) {
  std::size_t at = std::string::npos;
  each_part(token, '/', [&](std::string_view alternative) {
    for (std::size_t i = 0; i < words.size() && at == std::string::npos; ++i) {
      if (used[i]) continue;
      const bool hit = with_slip ? one_slip(words[i], alternative)
                                 : words[i] == alternative || unnumbered(words[i]) == alternative;
      if (hit) at = i;
    }
  });
  return at;
}

std::optional<Match> match(const Rule& rule, const std::vector<std::string>& words) {
  constexpr double kSlip = 0.9;       // in one of several words
  constexpr double kOnlySlip = 0.75;  // in the only one
  constexpr double kUnexplained = 0.93;
  constexpr double kTurned = 0.4;
  Match out{rule.confidence, 0, ""};
  std::vector<bool> used(words.size());
  bool all = true;
  each_part(rule.words, ' ', [&](std::string_view token) {
    std::size_t at = find_token(token, words, used, false);
    if (at == std::string::npos) {
      at = find_token(token, words, used, true);
      if (at == std::string::npos) {
        all = false;
        return;
      }
      const bool only = std::string_view(rule.words).find(' ') == std::string_view::npos;
      out.confidence *= only ? kOnlySlip : kSlip;
      out.note += fmt::format("; \"{}\" is taken for a slip of the pen", words[at]);
    }
    used[at] = true;
    ++out.words;
  });
  if (!all) return std::nullopt;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (used[i] || contains(kNoise, words[i]) || is_number(words[i])) continue;
    const bool turning = contains(kTurning, words[i]);
    out.confidence *= turning ? kTurned : kUnexplained;
    if (turning) out.note += fmt::format("; but \"{}\" turns it into something else", words[i]);
  }
  return out;
}

bool is_upper(char c) { return c >= 'A' && c <= 'Z'; }
bool is_lower(char c) { return c >= 'a' && c <= 'z'; }

}  // namespace

std::vector<std::string> words_of(std::string_view header) {
  std::vector<std::string> out;
  std::string word;
  const auto end_word = [&] {
    if (!word.empty()) out.push_back(word);
    word.clear();
  };
  for (std::size_t i = 0; i < header.size(); ++i) {
    const char c = header[i];
    const bool keep =
        std::isalnum(static_cast<unsigned char>(c)) != 0 || static_cast<unsigned char>(c) >= 0x80;
    if (!keep) {
      end_word();
      continue;
    }
    if (i > 0 && is_upper(c)) {
      const bool after_small = is_lower(header[i - 1]) && word.size() > 1;  // kPa is one word
      const bool begins_word =
          is_upper(header[i - 1]) && i + 1 < header.size() && is_lower(header[i + 1]);
      if (after_small || begins_word) end_word();
    }
    word += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  end_word();
  for (std::string& w : out) {
    if (w == "\xCE\xBB" || w == "\xCE\x9B") w = "lambda";
  }
  return out;
}

std::vector<NameGuess> guess_by_name(std::string_view header) {
  constexpr double kFaintest = 0.3;
  constexpr std::size_t kMostWords = 24;
  std::string note;
  std::vector<std::string> words = in_english(words_of(header), note);
  if (words.size() > kMostWords) words.resize(kMostWords);
  std::vector<NameGuess> out;
  for (const Rule& rule : kRules) {
    const std::optional<Match> m = match(rule, words);
    if (!m || m->confidence < kFaintest) continue;
    NameGuess guess{rule.what, m->confidence, m->words,
                    fmt::format("the name says {}{}{}", info(rule.what).label, m->note, note)};
    const auto same = std::ranges::find(out, rule.what, &NameGuess::what);
    if (same == out.end()) {
      out.push_back(std::move(guess));
    } else if (same->confidence < guess.confidence) {
      *same = std::move(guess);
    }
  }
  std::ranges::sort(out, [](const NameGuess& a, const NameGuess& b) {
    return a.confidence != b.confidence ? a.confidence > b.confidence : a.what < b.what;
  });
  return out;
}

bool names_equivalence(std::string_view header) {
  std::string note;
  return std::ranges::any_of(in_english(words_of(header), note), [](const std::string& w) {
    return w == "equivalence" || w == "equiv" || w == "phi";
  });
}

bool names_vacuum(std::string_view header) {
  std::string note;
  return std::ranges::any_of(in_english(words_of(header), note),
                             [](const std::string& w) { return w == "vacuum"; });
}

int bank_of(std::string_view header) {
  const std::vector<std::string> words = words_of(header);
  for (std::size_t i = 0; i < words.size(); ++i) {
    const std::string& w = words[i];
    if (w == "bank2" || w == "b2" || w == "b2s1" || w == "b2s2") return 2;
    if (w == "2" && i > 0 && (words[i - 1] == "bank" || i + 1 == words.size())) return 2;
    if (i + 1 == words.size() && w.size() > 2 && w.back() == '2' && !w.starts_with("b1") &&
        w != "o2" && w != "wbo2")
      return 2;
  }
  return 1;
}

}  // namespace fuelwright::signals
