// Faults found, missed and falsely alarmed; false stops in ten hours of clean driving; what the
// real recordings show:  fuelwright_sensor_checks [tune] [each] [faults] [clean] [real FOLDER] [air
// FOLDER]
//
// `tune` uses the cars on which constants were chosen (seeds 1..); without it others are scored
// (seeds 101..). `air FOLDER` keeps the computed air of the cars.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <map>
#include <string>

#include "advice/guard/guard_recording.h"
#include "car/build/sheet_file.h"
#include "cases.h"

namespace {

using namespace fuelwright;
using advice::Finding;
using advice::Grade;
using advice::SensorReport;

struct Options {
  bool tune = false, each = false, faults = false, clean = false;
  std::string real, air, only;
};

const Finding* named(const SensorReport& r, const bench::FaultCase& c) {
  const Finding* best = nullptr;
  for (const advice::Check k : c.names) {
    const Finding* f = r.find(k);
    if (f && (!best || f->grade > best->grade)) best = f;
  }
  return best;
}

SensorReport look(const bench::FaultCase& c, const bench::GarageCar& car,
                  const signals::Recording& r, bool healthy) {
  advice::CheckedCar told = bench::told(car);
  if (const auto& say = healthy ? c.say_healthy : c.say) say(told);
  return c.key_on ? advice::check_key_on(r, told) : advice::check_running(r, told);
}

std::string missing(const SensorReport& r, const bench::FaultCase& c) {
  for (const auto& n : r.not_checked) {
    if (std::ranges::find(c.names, n.check) != c.names.end()) return "not checked: " + n.because;
  }
  return "";
}

char mark(const Finding* f) {
  if (!f || f->grade == Grade::fine) return '-';
  return f->grade == Grade::stop ? 'S' : 'D';
}

void print_each(const char* what, const SensorReport& r, const bench::FaultCase& c) {
  const Finding* f = named(r, c);
  fmt::print("      {:12} {} {}\n", what, mark(f),
             f ? fmt::format("[size {:.4g} sd {:.3g} ln {:.1f} fa {:.1e}] {}", f->evidence.size,
                             f->evidence.sd, f->evidence.ln_ratio, f->evidence.false_alarm, f->seen)
               : missing(r, c));
  for (const Finding& x : r.findings) {
    if (x.grade == Grade::stop && std::ranges::find(c.names, x.check) == c.names.end()) {
      fmt::print("        also stop {}: {}\n", advice::words_of(x.check).name, x.seen);
    }
  }
}

void run_faults(const Options& o) {
  const std::uint64_t first = o.tune ? 1 : 101;
  std::vector<bench::GarageCar> cars;
  for (int k = 0; k < 3; ++k)
    cars.push_back(bench::garage_car(k, first + static_cast<unsigned>(k), o.air));
  fmt::print(
      "faults, three cars; for each severity one letter a car: S found as stop, D as doubt, - "
      "missed,\n"
      ". could not be checked; last column: the same check on the healthy look-alike\n");
  fmt::print("  {:36} {:>18}  {:5} {:5} {:5} {:5} {}\n", "fault", "severities", "low", "mid",
             "high", "clean", "look-alike");
  int missed_mid = 0, missed_grave = 0, found_mid = 0, total_mid = 0, false_alarms = 0,
      false_stops = 0, other_stops = 0;
  for (const bench::FaultCase& c : bench::all_faults_of_the_bench()) {
    if (!o.only.empty() && c.name.find(o.only) == std::string::npos) continue;
    std::array<std::string, 4> letters;
    for (std::size_t k = 0; k < cars.size(); ++k) {
      if (o.each) fmt::print("    {}\n", cars[k].name);
      const std::uint64_t road = 40 + k;
      for (std::size_t s = 0; s < 3; ++s) {
        const SensorReport r = look(c, cars[k], c.sick(cars[k], c.severity[s], road), false);
        const Finding* f = named(r, c);
        const char m = f ? mark(f) : '.';
        letters[s] += m;
        if (o.each) print_each(fmt::format("{} {}", c.severity[s], c.unit).c_str(), r, c);
        if (s != 1) continue;
        ++total_mid;
        found_mid += m == 'S' || m == 'D';
        missed_mid += m == '-' || m == '.';
        missed_grave += c.grave && (m == '-' || m == '.');
      }
      const SensorReport r = look(c, cars[k], c.healthy(cars[k], road), true);
      const Finding* f = named(r, c);
      const char m = f ? mark(f) : '.';
      letters[3] += m;
      false_alarms += m == 'S' || m == 'D';
      false_stops += m == 'S';
      for (const Finding& x : r.findings) {
        other_stops +=
            x.grade == Grade::stop && std::ranges::find(c.names, x.check) == c.names.end();
      }
      if (o.each) print_each("look-alike", r, c);
    }
    fmt::print("{} {:36} {:>18}  {:5} {:5} {:5} {:5} {}\n", c.grave ? '*' : ' ', c.name,
               fmt::format("{}/{}/{} {}", c.severity[0], c.severity[1], c.severity[2], c.unit),
               letters[0], letters[1], letters[2], letters[3], c.like);
    std::fflush(stdout);
  }
  fmt::print(
      "middle severity: {} of {} found, {} missed, of stop grade (*) missed {}; false alarms on "
      "the look-alikes {}, of them stops {}; stops by other checks on the look-alikes {}\n",
      found_mid, total_mid, missed_mid, missed_grave, false_alarms, false_stops, other_stops);
}

void run_clean(const Options& o) {
  const std::uint64_t first = o.tune ? 21 : 121;
  std::map<std::string, int> doubts, stops, guards;
  double hours = 0, check_s = 0, slowest_s = 0;
  int refused = 0;
  for (std::uint64_t k = 0; k < 10; ++k) {
    const bench::GarageCar car =
        bench::garage_car(static_cast<int>(k) % bench::kGarageKinds, first + k, o.air);
    const signals::Recording r =
        bench::drive(car, {.minutes = 60, .road = 70 + k, .cold = k % 2 == 0});
    const auto began = std::chrono::steady_clock::now();
    const SensorReport report = advice::check_running(r, bench::told(car));
    const double s =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
    check_s += s;
    slowest_s = std::max(slowest_s, s);
    hours += r.time_s.back() / 3600;
    refused += report.refused().has_value();
    for (const Finding& f : report.findings) {
      if (f.grade == Grade::fine) continue;
      ++(f.grade == Grade::stop ? stops : doubts)[advice::words_of(f.check).name];
      if (o.each || f.grade == Grade::stop) {
        fmt::print("    {} {} {}: {}\n", car.name, advice::name_of(f.grade),
                   advice::words_of(f.check).name, f.seen);
      }
    }
    const auto guard = advice::guard_recording(r, advice::safe_rules(car.sheet), car.sheet);
    for (const advice::Firing& f : guard.firings) {
      ++guards[advice::words_of(f.rule).name];
      if (o.each) fmt::print("    {} guard: {}\n", car.name, advice::in_words(f));
    }
    if (o.each) {
      for (const auto& x : report.masks.shares(*r.row_step)) {
        fmt::print("      masked {:6.0f} s {} {}\n", x.seconds.si, signals::info(x.sensor).name,
                   x.why);
      }
    }
  }
  const auto total = [](const std::map<std::string, int>& m) {
    int n = 0;
    for (const auto& [name, count] : m) n += count;
    return n;
  };
  fmt::print(
      "clean driving, {:.1f} h on ten cars: {} false stops, {} doubts, {} refused; {:.2f} s a "
      "recording "
      "of an hour, slowest {:.2f} s\n",
      hours, total(stops), total(doubts), refused, check_s / 10, slowest_s);
  for (const auto& [name, count] : stops) fmt::print("  stop  {} {}\n", count, name);
  for (const auto& [name, count] : doubts) fmt::print("  doubt {} {}\n", count, name);
  for (const auto& [name, count] : guards) fmt::print("  guard {} {}\n", count, name);
}

void run_real(const Options& o) {
  struct Real {
    const char* file;
    const char* litres;
  };
  for (const Real& x :
       {Real{"small_car_1200.csv", "1.229 l"}, Real{"compact_1500_drive1.csv", "1.5 l"},
        Real{"compact_1500_idle10.csv", "1.5 l"}, Real{"compact_1500_live1.csv", "1.5 l"},
        Real{"compact_1500_long2.csv", "1.5 l"}}) {
    const auto bytes = signals::read_file(o.real + "/" + x.file);
    if (!bytes.ok()) {
      fmt::print("{}\n", bytes.error().line());
      continue;
    }
    const auto r = signals::read_recording(*bytes, x.file, {});
    const auto sheet = car::read_sheet(
        fmt::format(
            "[engine]\ndisplacement = \"{}\"\ncylinders = 4\n[cam]\nintake_duration_050 = \"196 "
            "deg\"\n[injection]\ninjector_flow = \"140 cc/min at 3.8 bar\"\n[fuel]\nname = "
            "\"E5\"\n",
            x.litres),
        "real.toml");
    if (!r.ok() || !sheet.ok()) {
      fmt::print("{}: {}\n", x.file, r.ok() ? sheet.error().line() : r.error().line());
      continue;
    }
    const SensorReport report = advice::check_running(*r, {.sheet = *sheet});
    int stops = 0, doubts = 0;
    for (const Finding& f : report.findings) {
      stops += f.grade == Grade::stop;
      doubts += f.grade == Grade::doubt;
    }
    fmt::print("{}: {} stops, {} doubts{}\n", x.file, stops, doubts,
               report.refused() ? "; refused: " + *report.refused() : "");
    for (const Finding& f : report.findings) {
      if (f.grade == Grade::fine && !o.each) continue;
      fmt::print("  {:5} {:20} {}\n", advice::name_of(f.grade), advice::words_of(f.check).name,
                 f.seen);
    }
    if (!o.each) continue;
    for (const auto& n : report.not_checked) {
      fmt::print("  not checked {}: {}\n", advice::words_of(n.check).name, n.because);
    }
  }
}

}  // namespace

int main(int argc, char** argv) {
  Options o;
  for (int i = 1; i < argc; ++i) {
    const std::string a = argv[i];
    if (a == "tune") o.tune = true;
    if (a == "each") o.each = true;
    if (a == "faults") o.faults = true;
    if (a == "clean") o.clean = true;
    if (a == "real" && i + 1 < argc) o.real = argv[++i];
    if (a == "air" && i + 1 < argc) o.air = argv[++i];
    if (a == "only" && i + 1 < argc) o.only = argv[++i];
  }
  const bool all = !o.faults && !o.clean && o.real.empty();
  if (o.faults || all) run_faults(o);
  if (o.clean || all) run_clean(o);
  if (!o.real.empty()) run_real(o);
  return 0;
}
