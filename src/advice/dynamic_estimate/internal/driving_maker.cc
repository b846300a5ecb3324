#include "advice/dynamic_estimate/internal/driving_maker.h"

#include <fmt/format.h>

#include <algorithm>

#include "advice/map_estimate/injector_fuel.h"

namespace fuelwright::advice {
namespace {

using signals::Channel;
using signals::Quantity;
using signals::Recording;

constexpr double kR_air = 287.05;        // J/(kg K), dry air
constexpr double kBreak = 2.5;           // steps without a row: a new stretch
constexpr double kLongestHold_s = 0.6;   // a missing value is held no longer than this
constexpr double kLowestMap_pa = 16e3;   // below: overrun
constexpr double kLeanestReading = 1.5;  // free air, or the sensor's lean stop
constexpr double kRichestReading = 0.6;
constexpr double kLongestDelay_s = 1.5;  // a cut shows in the reading within this
constexpr double kHighLoad_pa = 85e3;
constexpr double kWeightOfUnit = 0.05;         // w against a unit whose law is unknown
constexpr double kReferenceIntake_k = 293.15;  // absolute VE holds for intake air of 20 degC
constexpr double kReferenceDriven_k = 308.15;  // the middle of intake air under way
constexpr double kReferenceCoolant_k = 363.15;
constexpr double kMovingFuel_pa_s = 15e3;  // without pulse width: tip-in fuel is not known ...
constexpr double kMovingFuel_s = 1.0;      // ... for this long

constexpr double kLongAgo_s = 1e3;
constexpr double kLeastAcross_pa = 1e3;  // below, the sheet's rail cannot be right

// Linear from 1 at a to 0 at b.
double fade(double x, double a, double b) { return std::clamp((b - x) / (b - a), 0.0, 1.0); }

}  // namespace

double share_of_sensor(const car::Sheet& sheet, int sensor) {
  const auto k = static_cast<std::size_t>(sensor - 1);
  if (k >= sheet.sensors.mixture.size()) return 1;
  const car::MixtureSensor& m = sheet.sensors.mixture[k];
  if (!m.cylinders.values.empty()) {
    return static_cast<double>(m.cylinders.values.size()) / sheet.engine.cylinders.si();
  }
  const bool one_bank = m.bank.value > 0 && sheet.engine.banks.value > 1;
  return one_bank ? 1.0 / sheet.engine.banks.si() : 1.0;
}

DrivingMaker::DrivingMaker(const Recording& like, const car::Sheet& sheet,
                           const car::Surface& start, const car::Surface& driven,
                           const ObserveOptions& options, FuelFrom from, int sensor)
    : sheet_(sheet),
      start_(start),
      driven_(driven),
      options_(options),
      sensor_(sensor),
      name_(like.name),
      by_throttle_(start.grid.y.kind() == car::AxisKind::throttle),
      rpm_{Quantity::rpm, NAN},
      map_{Quantity::map, NAN},
      clt_{Quantity::coolant, kReferenceCoolant_k},
      iat_{Quantity::intake_air, kReferenceDriven_k},
      target_{Quantity::target, NAN},
      correction_{Quantity::correction, 0.0},
      pulse_{Quantity::pulse_width, NAN},
      battery_{Quantity::battery, sheet.injection.dead_time_voltage.si()},
      throttle_{Quantity::throttle, 0.0},
      baro_{Quantity::baro, sheet.place.pressure.si()} {
  for (Held* c : {&rpm_, &map_, &clt_, &iat_, &target_, &correction_, &pulse_, &battery_,
                  &throttle_, &baro_}) {
    c->recorded = like.find(c->what) != nullptr;
  }
  d_.fuel_from = from;
  d_.step_s = like.row_step->si;
  d_.stoichiometric = sheet.fuel.stoichiometric.si();
  d_.sensor_share = share_of_sensor(sheet, sensor);
  d_.bank_side = d_.sensor_share == 1 ? 0 : sensor == 1 ? 1 : -1;
  if (from == FuelFrom::target) d_.heating_held = kWeightOfUnit;
}

// Values with gaps held; NaN where nothing is there to hold.
void DrivingMaker::extend(Held& column, const Recording& piece, std::size_t before) {
  if (!column.recorded) {
    column.si.resize(before + piece.rows, column.otherwise);
    return;
  }
  const Channel* c = piece.find(column.what);
  if (c) {
    column.si.insert(column.si.end(), c->si.begin(), c->si.end());
  } else {
    column.si.resize(before + piece.rows, NAN);
  }
  const auto longest = static_cast<std::size_t>(kLongestHold_s / d_.step_s);
  for (std::size_t k = 0; k < piece.segments.size(); ++k) {
    const bool anew = before == 0 || k > 0;
    const std::size_t first = before + piece.segments[k].first;
    if (anew) column.age = longest + 1;
    for (std::size_t i = first; i < before + piece.segments[k].last; ++i) {
      if (!std::isnan(column.si[i])) {
        column.age = 0;
      } else if ((!anew || i > first) && ++column.age <= longest) {
        column.si[i] = column.si[i - 1];
      }
    }
  }
}

void DrivingMaker::make_room(std::size_t n) {
  for (auto* c : {&d_.fuel_kg_s, &d_.dead_kg_s2, &d_.air_kg_s, &d_.heating, &d_.idle,
                  &d_.exhaust_pa, &d_.since_cut_s, &d_.high_load_s, &d_.rpm,
                  &d_.map_pa, &d_.coolant_k}) {
    c->resize(n, 0.0);
  }
  d_.reading_ln.resize(n, NAN);
  d_.usable.resize(n, 0);
  d_.at.resize(n);
}

void DrivingMaker::add(const Recording& piece) {
  const std::size_t before = d_.rows();
  for (Held* c : {&rpm_, &map_, &clt_, &iat_, &target_, &correction_, &pulse_, &battery_,
                  &throttle_, &baro_}) {
    extend(*c, piece, before);
  }
  if (const Channel* c = piece.find(Quantity::lambda, sensor_)) {
    lambda_.insert(lambda_.end(), c->si.begin(), c->si.end());
  } else {
    lambda_.resize(before + piece.rows, NAN);
  }
  make_room(before + piece.rows);
  for (std::size_t i = before; i < d_.rows(); ++i) {
    make_row(i);
    if (d_.law && !blank(i)) obey_law(i);
  }
  cut(piece, before);
  settle(false);
}

bool DrivingMaker::blank(std::size_t i) const {
  return std::isnan(rpm_[i]) || std::isnan(map_[i]) || (by_throttle_ && std::isnan(throttle_[i])) ||
         (pulse_known() && std::isnan(pulse_[i])) ||
         (d_.fuel_from != FuelFrom::pulse_width && !(target_[i] > 0 && correction_[i] > -1));
}

// Breaks in time and rows without a needed value end a stretch; one of a single row is none.
void DrivingMaker::cut(const Recording& piece, std::size_t before) {
  for (std::size_t k = 0; k < piece.segments.size(); ++k) {
    const signals::Segment& s = piece.segments[k];
    for (std::size_t i = before + s.first; i < before + s.last; ++i) {
      const double now = piece.time_s[i - before];
      const bool anew = (before == 0 || k > 0) && i == before + s.first;
      if (!anew) clock_.add(now - time_s_, d_.step_s);
      if (anew || !(now - time_s_ < kBreak * d_.step_s)) open_ = i;
      time_s_ = now;
      if (blank(i)) {
        open_ = i + 1;
        continue;
      }
      if (i == open_) moved_s_ = kLongAgo_s;
      if (i == open_ + 1) d_.stretches.push_back({open_, open_});
      if (i > open_) d_.stretches.back().last = i + 1;
      if (d_.fuel_from == FuelFrom::target) guess_cut(i);
    }
  }
}

car::OperatingPoint DrivingMaker::point(std::size_t i) const {
  const double ambient = std::isnan(baro_[i]) ? sheet_.place.pressure.si() : baro_[i];
  return {.speed = fuelwright::rpm(rpm_[i]),
          .map = absolute(map_[i] * pascal),
          .ambient = absolute(ambient * pascal),
          .throttle = throttle_[i]};
}

double DrivingMaker::dead_s(std::size_t i) const {
  return dead_time(sheet_.injection, battery_[i] * volt).si;
}

double DrivingMaker::flow_kg_s(std::size_t i) const {
  const car::OperatingPoint at = point(i);
  const PressureStep across = pressure_across_injector(sheet_.injection, at.map, at.ambient);
  return sheet_.injection.injector_count.si() *
         injector_flow(sheet_, PressureStep{std::max(across.si, kLeastAcross_pa)}).si;
}

double DrivingMaker::air(const car::Surface& table, const car::OperatingPoint& at,
                         std::size_t i) const {
  const double pressure = by_throttle_ ? at.ambient.from_zero.si : map_[i];
  return table.at(at) * pressure * sheet_.engine.displacement.si() * rpm_[i] /
         (120.0 * kR_air * iat_[i]);
}

// At rated speed and full throttle, of an ordinary engine.
double DrivingMaker::full_air_kg_s() const {
  constexpr double kVe = 0.85;
  const double rated = 0.9 * sheet_.wishes.rev_limit.si();
  return kVe * 101325 * sheet_.engine.displacement.si() * rated /
         (120.0 * kR_air * kReferenceIntake_k);
}

// h of (dynamic.2)
double DrivingMaker::heat(double air_kg_s) const {
  const double reference =
      0.8 * 50e3 * sheet_.engine.displacement.si() * 2000 / (120.0 * kR_air * kReferenceDriven_k);
  return std::min(std::sqrt(reference / std::max(air_kg_s, 1e-9)), 3.0);
}

void DrivingMaker::make_row(std::size_t i) {
  d_.rpm[i] = std::max(rpm_[i], 1.0);
  d_.map_pa[i] = map_[i];
  d_.coolant_k[i] = std::isnan(clt_[i]) ? kReferenceCoolant_k : clt_[i];
  if (std::isnan(iat_[i])) iat_.si[i] = kReferenceDriven_k;
  if (blank(i)) return;
  const car::OperatingPoint at = point(i);
  d_.at[i] = start_.grid.shares(at);
  d_.air_kg_s[i] = std::max(air(start_, at, i), 1e-9);
  const double per_s = sheet_.injection.squirts_per_cycle.si() * d_.rpm[i] / 120.0;
  const double open = pulse_known() ? pulse_[i] - dead_s(i) : 1.0;
  d_.dead_kg_s2[i] = open > 0 ? flow_kg_s(i) * per_s : 0.0;
  if (pulse_known()) {
    d_.fuel_kg_s[i] = d_.dead_kg_s2[i] * std::max(open, 0.0);  // (dynamic.1)
  } else {
    d_.fuel_kg_s[i] = air(driven_, at, i) * (1 + correction_[i]) / (target_[i] * d_.stoichiometric);
  }
  make_heat(i);
  d_.idle[i] = fade(d_.rpm[i], 850, 1700) * fade(map_[i], 45e3, 80e3);
  const double full = d_.air_kg_s[i] / full_air_kg_s();
  d_.exhaust_pa[i] = sheet_.exhaust.back_pressure.value.above_ambient.si * full * full;
  const double slowest =
      options_.slowest ? options_.slowest->rpm : 0.8 * sheet_.wishes.idle_speed.si();
  d_.usable[i] = d_.rpm[i] >= slowest && d_.coolant_k[i] >= options_.warm.from_zero.si &&
                 d_.map_pa[i] >= kLowestMap_pa;
  const double lambda = lambda_[i];
  if (lambda > kRichestReading && lambda < kLeanestReading) d_.reading_ln[i] = std::log(lambda);
}

// Charge temperature (dynamic.2) and its derivative with respect to w.
void DrivingMaker::make_heat(std::size_t i) {
  const double h = heat(d_.air_kg_s[i]);
  const bool absolute_ve = d_.fuel_from == FuelFrom::pulse_width;
  const double reference_k = absolute_ve ? kReferenceIntake_k : kReferenceDriven_k;
  const double here = h * (d_.coolant_k[i] - iat_[i]);
  const double there = h * (kReferenceCoolant_k - reference_k);
  const double t_here = iat_[i] + kChargeWeight * here;
  const double t_there = reference_k + kChargeWeight * there;
  d_.heating[i] = there / t_there - here / t_here;
  if (absolute_ve) d_.air_kg_s[i] *= iat_[i] / t_here * (t_there / reference_k);
  if (d_.fuel_from == FuelFrom::target) d_.air_kg_s[i] *= std::exp(d_.heating_held * d_.heating[i]);
}

// Without a pulse width a cut shows only in the reading, a delay later; tip-in fuel is unknown.
void DrivingMaker::guess_cut(std::size_t i) {
  const auto back = static_cast<std::size_t>(kLongestDelay_s / d_.step_s);
  if (lambda_[i] >= kLeanestReading) {
    for (std::size_t k = i >= open_ + back ? i - back : open_; k <= i; ++k) {
      d_.fuel_kg_s[k] = d_.dead_kg_s2[k] = 0;
    }
  }
  const auto two = std::min<std::size_t>(2, i - open_);
  const double rise = two ? (map_[i] - map_[i - two]) / (2 * d_.step_s) : 0.0;
  moved_s_ = rise > kMovingFuel_pa_s ? 0.0 : moved_s_ + d_.step_s;
  if (moved_s_ < kMovingFuel_s) d_.usable[i] = 0;
}

void DrivingMaker::settle(bool ended) {
  const std::size_t n = d_.rows();
  std::size_t last = n;
  if (!ended && open_ < n) {
    if (n - open_ == 1) last = open_;  // it may be alone
    if (d_.fuel_from == FuelFrom::target) {
      const auto back = static_cast<std::size_t>(kLongestDelay_s / d_.step_s);
      last = std::min(last, n >= open_ + back ? n - back : open_);
    }
  }
  run_clocks(std::max(last, settled_));
}

void DrivingMaker::run_clocks(std::size_t last) {
  auto s = std::partition_point(d_.stretches.begin(), d_.stretches.end(),
                                [&](const auto& x) { return x.last <= settled_; });
  for (; s != d_.stretches.end() && s->first < last; ++s) {
    for (std::size_t i = std::max(s->first, settled_); i < std::min(s->last, last); ++i) {
      if (i == s->first) {
        cut_s_ = kLongAgo_s;
        high_s_ = 0;
      }
      cut_s_ = d_.fuel_kg_s[i] <= 0 ? 0.0 : cut_s_ + d_.step_s;
      high_s_ = d_.map_pa[i] > kHighLoad_pa ? high_s_ + d_.step_s : 0.0;
      d_.since_cut_s[i] = cut_s_;
      d_.high_load_s[i] = high_s_;
    }
  }
  settled_ = last;
}

}  // namespace fuelwright::advice
