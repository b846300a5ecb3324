#include "advice/dynamic_estimate/driving.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "advice/dynamic_estimate/internal/charge_law.h"
#include "car/build/derived.h"

namespace fuelwright::advice {
namespace {

using signals::Channel;
using signals::Pace;
using signals::Quantity;
using signals::Recording;

constexpr double kR_air = 287.05;        // J/(kg K), dry air
constexpr double kSlowestStep_s = 0.13;  // slower rows cannot show a sensor lag of a tenth
constexpr double kJitter = 0.25;         // of a step, that a step may be off by ...
constexpr double kJittery = 0.02;        // ... in at most this share of the rows
constexpr double kBreak = 2.5;           // steps without a row: a new stretch
constexpr double kLongestHold_s = 0.6;   // a missing value is held no longer than this
constexpr double kLowestMap_pa = 16e3;   // below: overrun
constexpr double kLeanestReading = 1.5;  // free air, or the sensor's lean stop
constexpr double kRichestReading = 0.6;
constexpr double kLongestDelay_s = 1.5;  // a cut shows in the reading within this
constexpr double kHighLoad_pa = 85e3;
constexpr double kWeight = 0.10;               // w of (dynamic.2) before driving (from memory)
constexpr double kReferenceIntake_k = 293.15;  // absolute VE holds for intake air of 20 degC
constexpr double kReferenceDriven_k = 308.15;  // the middle of intake air under way
constexpr double kReferenceCoolant_k = 363.15;
constexpr double kDeadTimeExponent = 1.6;  // dead time over battery voltage (common practice)
constexpr double kLawWarm_k = 349.15;    // warm-up enrichment has ended (common practice: 75 degC)
constexpr double kContradiction = 0.02;  // spread about the unit's law that nothing explains
constexpr double kLevelOff = 0.05;       // fuel that table and injectors do not explain
constexpr double kMovingFuel_pa_s = 15e3;  // without pulse width: tip-in fuel is not known ...
constexpr double kMovingFuel_s = 1.0;      // ... for this long

// Linear from 1 at a to 0 at b.
double fade(double x, double a, double b) { return std::clamp((b - x) / (b - a), 0.0, 1.0); }

struct Columns {
  std::vector<double> rpm, map, clt, iat, lambda, target, correction, pulse, battery, throttle,
      baro;
};

// Values with gaps held; NaN where nothing is there to hold.
std::vector<double> held(const Recording& r, Quantity what, double otherwise, double step_s) {
  const Channel* c = r.find(what);
  if (!c) return std::vector<double>(r.rows, otherwise);
  std::vector<double> out = c->si;
  const auto longest = static_cast<std::size_t>(kLongestHold_s / step_s);
  for (const signals::Segment& s : r.segments) {
    std::size_t age = longest + 1;
    for (std::size_t i = s.first; i < s.last; ++i) {
      if (!std::isnan(out[i])) {
        age = 0;
      } else if (i > s.first && ++age <= longest) {
        out[i] = out[i - 1];
      }
    }
  }
  return out;
}

Status check_clock(const Recording& r) {
  const auto no = [&](std::string why) {
    return Error{ErrorCode::not_found, r.name, why + ": film and sensor cannot be told from it"};
  };
  if ((r.pace != Pace::timed && r.pace != Pace::stated_rate) || !r.row_step || r.time_s.empty()) {
    return no("no clock in it");
  }
  const double step = r.row_step->si;
  if (!(step > 0) || step > kSlowestStep_s) {
    return no(
        fmt::format("rows come every {:.2f} s, {:.2f} s or less is needed", step, kSlowestStep_s));
  }
  if (r.simultaneity == signals::Simultaneity::polled_in_turn) return no("channels polled in turn");
  long irregular = 0;
  for (const signals::Segment& s : r.segments) {
    for (std::size_t i = s.first + 1; i < s.last; ++i) {
      irregular += !(std::abs(r.time_s[i] - r.time_s[i - 1] - step) < kJitter * step);
    }
  }
  if (static_cast<double>(irregular) > kJittery * static_cast<double>(r.rows)) {
    return no("rows do not come regularly");
  }
  return Done{};
}

Result<FuelFrom> choose(const Recording& r, const ObserveOptions& o, const car::Grid& grid) {
  const auto has = [&](Quantity q) { return r.find(q) != nullptr; };
  const auto missing = [&](const char* what) {
    return Error{ErrorCode::not_found, r.name, fmt::format("{} not recorded", what)};
  };
  if (o.way && *o.way != Way::correction && *o.way != Way::pulse_width) {
    return Error{ErrorCode::not_found, r.name,
                 fmt::format("{} has no dynamics to estimate", describe(*o.way))};
  }
  if (!has(Quantity::rpm)) return missing("engine speed");
  if (!has(Quantity::map)) return missing("MAP");
  if (!has(Quantity::lambda)) return missing("a mixture sensor");
  if (grid.y.kind() == car::AxisKind::throttle && !has(Quantity::throttle)) {
    return missing("throttle");
  }
  const bool known_loop = has(Quantity::correction) || o.open_loop;
  const bool relative = has(Quantity::target) && known_loop && o.way != Way::pulse_width;
  const bool pulse = has(Quantity::pulse_width) && has(Quantity::intake_air);
  if (relative && pulse) return FuelFrom::pulse_width_and_target;
  if (relative) return FuelFrom::target;
  if (o.way == Way::correction) {
    return has(Quantity::target)
               ? Error{ErrorCode::needs_answer, r.name,
                       "the closed-loop correction is not recorded; say --open-loop if the unit "
                       "ran without it"}
               : missing("the mixture target");
  }
  if (pulse) return FuelFrom::pulse_width;
  return missing(has(Quantity::pulse_width) ? "intake air temperature" : "the pulse width");
}

class Maker {
 public:
  Maker(const Recording& r, const car::Sheet& sheet, const car::Surface& start,
        const car::Surface& driven, const ObserveOptions& options, FuelFrom from)
      : r_(r), sheet_(sheet), start_(start), driven_(driven), options_(options) {
    d_.fuel_from = from;
    d_.step_s = r.row_step->si;
    d_.stoichiometric = sheet.fuel.stoichiometric.si();
    const double s = d_.step_s;
    v_.rpm = held(r, Quantity::rpm, NAN, s);
    v_.map = held(r, Quantity::map, NAN, s);
    v_.clt = held(r, Quantity::coolant, kReferenceCoolant_k, s);
    v_.iat = held(r, Quantity::intake_air, kReferenceDriven_k, s);
    v_.target = held(r, Quantity::target, NAN, s);
    v_.correction = held(r, Quantity::correction, 0.0, s);
    v_.pulse = held(r, Quantity::pulse_width, NAN, s);
    v_.battery = held(r, Quantity::battery, sheet.injection.dead_time_voltage.si(), s);
    v_.throttle = held(r, Quantity::throttle, 0.0, s);
    v_.baro = held(r, Quantity::baro, sheet.place.pressure.si(), s);
    v_.lambda = r.find(Quantity::lambda)->si;
  }

  Result<Driving> made() {
    size_columns();
    cut_into_stretches();
    sensor_share();
    for (std::size_t i = 0; i < r_.rows; ++i) row(i);
    if (d_.fuel_from == FuelFrom::pulse_width_and_target) FW_CHECK(take_units_law());
    if (d_.fuel_from == FuelFrom::target) guess_cuts();
    for (const Driving::Stretch& s : d_.stretches) run_clocks(s);
    return std::move(d_);
  }

 private:
  bool pulse_known() const { return d_.fuel_from != FuelFrom::target; }

  void size_columns() {
    const std::size_t n = r_.rows;
    for (auto* c : {&d_.fuel_kg_s, &d_.dead_kg_s2, &d_.air_kg_s, &d_.heating, &d_.idle,
                    &d_.since_cut_s, &d_.high_load_s}) {
      c->assign(n, 0.0);
    }
    d_.reading_ln.assign(n, NAN);
    d_.usable.assign(n, 0);
    d_.at.resize(n);
    d_.rpm.resize(n);
    d_.map_pa.resize(n);
    d_.coolant_k.resize(n);
  }

  void cut_into_stretches() {
    for (const signals::Segment& s : r_.segments) {
      std::size_t first = s.first;
      for (std::size_t i = s.first; i <= s.last; ++i) {
        const bool gap =
            i == s.last || (i > s.first && !(r_.time_s[i] - r_.time_s[i - 1] < kBreak * d_.step_s));
        const bool blank = i < s.last && (std::isnan(v_.rpm[i]) || std::isnan(v_.map[i]) ||
                                          (pulse_known() && std::isnan(v_.pulse[i])) ||
                                          (d_.fuel_from != FuelFrom::pulse_width &&
                                           !(v_.target[i] > 0 && v_.correction[i] > -1)));
        if (!gap && !blank) continue;
        if (i > first + 1) d_.stretches.push_back({first, i});
        first = blank ? i + 1 : i;
      }
    }
  }

  // A sensor that names its cylinders, or one bank, sees their part of the exhaust.
  void sensor_share() {
    if (sheet_.sensors.mixture.empty()) return;
    const car::MixtureSensor& m = sheet_.sensors.mixture.front();
    const double cylinders = sheet_.engine.cylinders.si();
    if (!m.cylinders.values.empty()) {
      d_.sensor_share = static_cast<double>(m.cylinders.values.size()) / cylinders;
    } else if (m.bank.value > 0 && sheet_.engine.banks.value > 1) {
      d_.sensor_share = 1.0 / sheet_.engine.banks.si();
    }
  }

  car::OperatingPoint point(std::size_t i) const {
    return {.speed = fuelwright::rpm(v_.rpm[i]),
            .map = absolute(v_.map[i] * pascal),
            .ambient = absolute(v_.baro[i] * pascal),
            .throttle = v_.throttle[i]};
  }

  // Open time of the injectors and their flow together, as told by the sheet.
  double dead_s(std::size_t i) const {
    const car::Injection& in = sheet_.injection;
    const double v = v_.battery[i] > 6 ? v_.battery[i] : in.dead_time_voltage.si();
    return in.dead_time.si() * std::pow(in.dead_time_voltage.si() / v, kDeadTimeExponent);
  }
  double flow_kg_s(std::size_t i) const {
    const car::Injection& in = sheet_.injection;
    const double map = v_.map[i];
    const double ambient = v_.baro[i];
    const double reference =
        in.regulator_reference.value == car::RegulatorReference::manifold ? map : ambient;
    const double tip = in.arrangement.value == car::InjectionArrangement::ports ? map : ambient;
    const double dp = std::max(reference + in.regulator_pressure.si() - tip, 1e3);
    return in.injector_count.si() * in.injector_flow.si() *
           std::sqrt(dp / in.injector_pressure.si() * sheet_.fuel.density.si() /
                     in.rated_density.si());
  }

  double air(const car::Surface& table, const car::OperatingPoint& at, std::size_t i) const {
    return table.at(at) * v_.map[i] * sheet_.engine.displacement.si() * v_.rpm[i] /
           (120.0 * kR_air * v_.iat[i]);
  }
  // h of (dynamic.2)
  double heat(double air_kg_s) const {
    const double reference =
        0.8 * 50e3 * sheet_.engine.displacement.si() * 2000 / (120.0 * kR_air * kReferenceDriven_k);
    return std::min(std::sqrt(reference / std::max(air_kg_s, 1e-9)), 3.0);
  }

  void row(std::size_t i) {
    d_.rpm[i] = std::max(v_.rpm[i], 1.0);
    d_.map_pa[i] = v_.map[i];
    d_.coolant_k[i] = std::isnan(v_.clt[i]) ? kReferenceCoolant_k : v_.clt[i];
    if (std::isnan(v_.rpm[i]) || std::isnan(v_.map[i])) return;
    if (std::isnan(v_.iat[i])) v_.iat[i] = kReferenceDriven_k;
    const car::OperatingPoint at = point(i);
    d_.at[i] = start_.grid.shares(at);
    d_.air_kg_s[i] = std::max(air(start_, at, i), 1e-9);
    const double per_s = sheet_.injection.squirts_per_cycle.si() * d_.rpm[i] / 120.0;
    if (pulse_known()) {
      const double open = v_.pulse[i] - dead_s(i);
      if (open > 0) {
        d_.dead_kg_s2[i] = flow_kg_s(i) * per_s;
        d_.fuel_kg_s[i] = d_.dead_kg_s2[i] * open;  // (dynamic.1)
      }
    } else {
      d_.fuel_kg_s[i] =
          air(driven_, at, i) * (1 + v_.correction[i]) / (v_.target[i] * d_.stoichiometric);
      d_.dead_kg_s2[i] = flow_kg_s(i) * per_s;
    }
    heat_of_row(i);
    const double overlap = fade(d_.rpm[i], 850, 1700) * fade(v_.map[i], 45e3, 80e3);
    d_.idle[i] = overlap;
    const double slowest =
        options_.slowest ? options_.slowest->rpm : 0.8 * sheet_.wishes.idle_speed.si();
    d_.usable[i] = d_.rpm[i] >= slowest && d_.coolant_k[i] >= options_.warm.from_zero.si &&
                   d_.map_pa[i] >= kLowestMap_pa;
    const double lambda = v_.lambda[i];
    if (lambda > kRichestReading && lambda < kLeanestReading) d_.reading_ln[i] = std::log(lambda);
  }

  // Charge temperature (dynamic.2) and its derivative with respect to w.
  void heat_of_row(std::size_t i) {
    const double h = heat(d_.air_kg_s[i]);
    const bool absolute_ve = d_.fuel_from == FuelFrom::pulse_width;
    const double reference_k = absolute_ve ? kReferenceIntake_k : kReferenceDriven_k;
    const auto per_w = [&](double intake, double coolant) { return h * (coolant - intake); };
    const double here = per_w(v_.iat[i], d_.coolant_k[i]);
    const double there = per_w(reference_k, kReferenceCoolant_k);
    const double t_here = v_.iat[i] + kWeight * here;
    const double t_there = reference_k + kWeight * there;
    d_.heating[i] = there / t_there - here / t_here;
    if (absolute_ve) {
      d_.air_kg_s[i] *= v_.iat[i] / t_here * (t_there / reference_k);
    }
  }

  Eigen::Vector4d law_column(std::size_t i) const {
    const double lift = (d_.coolant_k[i] - v_.iat[i]) / v_.iat[i];
    const double open = d_.fuel_kg_s[i] / d_.dead_kg_s2[i];
    const double volts = sheet_.injection.dead_time_voltage.si() - v_.battery[i];
    return {1.0, -heat(d_.air_kg_s[i]) * lift, -lift, volts / open};
  }

  // (dynamic.3): the air the unit counted with, carried over to the start table.
  Status take_units_law() {
    std::vector<LawRow> rows;
    for (const Driving::Stretch& s : d_.stretches) {
      for (std::size_t i = s.first; i < s.last; ++i) {
        if (!d_.usable[i] || d_.fuel_kg_s[i] <= 0 || d_.coolant_k[i] < kLawWarm_k) continue;
        const double unit = d_.fuel_kg_s[i] * d_.stoichiometric * v_.target[i];
        rows.push_back(
            {std::log(unit / ((1 + v_.correction[i]) * air(driven_, point(i), i))), law_column(i)});
      }
    }
    if (rows.empty()) return Done{};  // nothing warm: nothing will be learned from it either
    const ChargeLaw law = fit_charge_law(rows);
    d_.law_level = law.c[0];
    d_.law_spread = law.spread;
    if (law.spread > kContradiction) {
      return Error{ErrorCode::conflict, r_.name,
                   fmt::format("pulse width and target contradict the table said to be in the unit "
                               "by {:.0f} %: another table, or the unit corrects its own",
                               100 * law.spread)};
    }
    if (std::abs(law.c[0]) > kLevelOff && !r_.find(Quantity::correction)) {
      return Error{
          ErrorCode::conflict, r_.name,
          fmt::format("it is said to be driven open loop, but the pulse widths are {:+.0f} "
                      "% off what table and target make: the unit corrected, or the "
                      "injectors of the sheet are not those in the car",
                      100 * std::expm1(law.c[0]))};
    }
    if (std::abs(law.c[0]) > kLevelOff) {
      d_.notes.push_back(fmt::format(
          "the pulse widths are {:+.0f} % off what table, target and injectors of the sheet make: "
          "check injector flow, squirts per cycle and displacement, and that this table was in the "
          "unit; the answer compares with what the unit did",
          100 * std::expm1(law.c[0])));
    }
    for (const Driving::Stretch& s : d_.stretches) {
      for (std::size_t i = s.first; i < s.last; ++i) {
        const bool cut = d_.fuel_kg_s[i] <= 0;
        const Eigen::Vector4d column =
            cut ? Eigen::Vector4d(1,
                                  -heat(d_.air_kg_s[i]) * (d_.coolant_k[i] - v_.iat[i]) / v_.iat[i],
                                  -(d_.coolant_k[i] - v_.iat[i]) / v_.iat[i], 0)
                : law_column(i);
        d_.air_kg_s[i] *= std::exp(law.air(column));
        if (!cut) d_.fuel_kg_s[i] *= std::exp(-law.fuel(column));
      }
    }
    return Done{};
  }

  // Without a pulse width a cut shows only in the reading, a delay later.
  void guess_cuts() {
    const auto back = static_cast<std::size_t>(kLongestDelay_s / d_.step_s);
    for (const Driving::Stretch& s : d_.stretches) {
      double moved_s = 1e3;
      for (std::size_t i = s.first; i < s.last; ++i) {
        if (v_.lambda[i] >= kLeanestReading) {
          for (std::size_t k = i >= s.first + back ? i - back : s.first; k <= i; ++k) {
            d_.fuel_kg_s[k] = d_.dead_kg_s2[k] = 0;
          }
        }
        const auto two = std::min<std::size_t>(2, i - s.first);
        const double rise = two ? (v_.map[i] - v_.map[i - two]) / (2 * d_.step_s) : 0.0;
        moved_s = rise > kMovingFuel_pa_s ? 0.0 : moved_s + d_.step_s;
        if (moved_s < kMovingFuel_s) d_.usable[i] = 0;
      }
    }
  }

  void run_clocks(const Driving::Stretch& s) {
    double cut = 1e3;
    double high = 0;
    for (std::size_t i = s.first; i < s.last; ++i) {
      cut = d_.fuel_kg_s[i] <= 0 ? 0.0 : cut + d_.step_s;
      high = d_.map_pa[i] > kHighLoad_pa ? high + d_.step_s : 0.0;
      d_.since_cut_s[i] = cut;
      d_.high_load_s[i] = high;
    }
  }

  const Recording& r_;
  const car::Sheet& sheet_;
  const car::Surface& start_;
  const car::Surface& driven_;
  const ObserveOptions& options_;
  Columns v_;
  Driving d_;
};

}  // namespace

Result<Driving> Driving::make(const Recording& recording, const car::Sheet& sheet,
                              const car::Surface& start, const car::Surface& driven,
                              const ObserveOptions& options) {
  FW_CHECK(check_clock(recording));
  FW_TRY(const FuelFrom from, choose(recording, options, start.grid));
  return Maker(recording, sheet, start, driven, options, from).made();
}

}  // namespace fuelwright::advice
