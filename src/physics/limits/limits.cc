#include "physics/limits/limits.h"

#include <algorithm>
#include <cmath>

#include "base/contract.h"
#include "car/build/derived.h"

namespace fuelwright::physics::limits {
namespace {

constexpr double kStreet_m_s = 21, kStreetHalf = 1.5, kRacing_m_s = 25;
constexpr double kFallen = 0.95;  // of the peak of power

// Speeds up to which such tappets follow their cam with the springs usual for them (practice).
physics::Interval by_tappet(car::Tappet t) {
  switch (t) {
    case car::Tappet::hydraulic_flat:
      return {5800, 6200, 6600};
    case car::Tappet::hydraulic_roller:
      return {5900, 6300, 6700};
    case car::Tappet::solid_flat:
      return {6600, 7200, 7800};
    case car::Tappet::solid_roller:
      return {6800, 7600, 8400};
    case car::Tappet::direct:
      return {7000, 8000, 9500};
  }
  broken_contract("a known tappet", __FILE__, __LINE__);
}

bool given(car::Source s) { return s == car::Source::measured || s == car::Source::stated; }

double floor_50(double n) { return std::floor(n / 50) * 50; }

}  // namespace

const char* name_of(LimitBy by) {
  constexpr const char* kNames[] = {"piston_speed", "breathing", "valve_train", "wish"};
  return kNames[static_cast<std::size_t>(by)];
}

EngineSpeed speed_at_piston(Length stroke, Speed mean) {
  EXPECTS(stroke.si > 0);
  return rpm(60 * mean.si / (2 * stroke.si));  // (limits.1)
}

std::optional<EngineSpeed> breathes_to(std::span<const EngineSpeed> speeds,
                                       std::span<const Power> power) {
  EXPECTS(speeds.size() == power.size() && speeds.size() >= 3);
  const auto peak =
      static_cast<std::size_t>(std::max_element(power.begin(), power.end()) - power.begin());
  const double goal = kFallen * power[peak].si;
  for (std::size_t i = peak + 1; i < power.size(); ++i) {
    if (power[i].si > goal) continue;
    const double t = (power[i - 1].si - goal) / (power[i - 1].si - power[i].si);
    return rpm(speeds[i - 1].rpm + t * (speeds[i].rpm - speeds[i - 1].rpm));  // (limits.2)
  }
  return std::nullopt;
}

physics::Interval valve_train_rpm(const car::Cam& cam) {
  const physics::Interval plain = by_tappet(cam.tappet.value);
  // Acceleration at the valve goes with lift: 1 % less speed for each half-millimetre beyond 11 mm
  // is its square root, and springs take part of it back.
  const double beyond = std::max(0.0, cam.intake_lift.value.in(mm)-11);
  const double k = std::max(0.85, 1 - 0.02 * beyond);
  return {k * plain.low, k * plain.middle, k * plain.high};  // (limits.3)
}

RevLimit rev_limit(const car::Sheet& sheet, std::span<const EngineSpeed> speeds,
                   const std::vector<std::vector<Power>>& power) {
  RevLimit out;
  const Length stroke = sheet.engine.stroke.value;
  const auto at = [&](double v) { return speed_at_piston(stroke, Speed{v}).rpm; };
  out.bounds.push_back(
      {LimitBy::piston_speed,
       {at(kStreet_m_s - kStreetHalf), at(kStreet_m_s), at(kStreet_m_s + kStreetHalf)}});
  out.bounds.push_back({LimitBy::valve_train, valve_train_rpm(sheet.cam)});
  std::vector<double> ends;
  for (const auto& one : power)
    if (const auto end = breathes_to(speeds, one)) ends.push_back(end->rpm);
  // Where most engines still pull at the last speed, breathing sets no bound.
  if (2 * ends.size() > power.size())
    out.bounds.push_back({LimitBy::breathing, physics::interval_of(ends)});
  std::stable_sort(out.bounds.begin(), out.bounds.end(),
                   [](const Bound& a, const Bound& b) { return a.rpm.middle < b.rpm.middle; });
  const auto& wish = sheet.wishes.rev_limit;
  double hard = floor_50(out.bounds.front().rpm.middle);
  out.by = out.bounds.front().by;
  if (given(wish.source)) {
    const double n = wish.value.rpm;
    out.stated = wish.value;
    out.stated_piston_speed = car::mean_piston_speed(stroke, wish.value);
    out.beyond_racing = n > at(kRacing_m_s);
    for (const Bound& b : out.bounds) {
      if (b.by == LimitBy::valve_train) out.beyond_valve_train = n > b.rpm.high;
      if (b.by == LimitBy::breathing) out.beyond_breathing = n > 1.05 * b.rpm.high;
    }
    if (n <= hard) {
      hard = n;
      out.by = LimitBy::wish;
    }
  }
  out.hard = rpm(hard);
  out.soft = rpm(floor_50(hard - std::clamp(0.03 * hard, 150.0, 250.0)));
  out.piston_speed = car::mean_piston_speed(stroke, out.hard);
  return out;
}

SensorRange map_range(const car::Sheet& sheet, PressureStep boost, AbsolutePressure overrun) {
  SensorRange out;
  const AbsolutePressure ambient = sheet.place.pressure.value;
  // A day of high pressure at the sea brings more than the place's own: at least 103 kPa without
  // boost.
  const double high =
      boost.si > 0 ? 1.10 * boost.si + 1.05 * ambient.from_zero.si : 1.02 * ambient.from_zero.si;
  out.expected_high = absolute(PressureStep{high});
  out.expected_low = overrun;
  out.low_enough = sheet.sensors.map_low.value <= out.expected_low;
  out.high_enough = sheet.sensors.map_high.value >= out.expected_high;
  constexpr double kSold[] = {105e3, 115e3, 200e3, 250e3, 300e3, 400e3, 500e3, 700e3};
  const auto* next =
      std::find_if(std::begin(kSold), std::end(kSold), [&](double p) { return p >= high; });
  out.needs_high = absolute(PressureStep{next == std::end(kSold) ? kSold[7] : *next});
  out.lost = PressureStep{
      std::max(0.0, sheet.sensors.map_high.value.from_zero.si - out.needs_high.from_zero.si)};
  return out;
}

Electric electric_load(const Loads& loads) {
  EXPECTS(loads.volts.si > 0);
  constexpr double kCoil_A = 1.0, kSpark_J = 0.10, kIdleShare = 0.5, kIdleDuty = 0.04,
                   kInHand = 1.1;
  const auto drawn = [&](EngineSpeed n, double duty) {
    const double sparks = loads.cylinders * n.rpm / 120;
    return Current{loads.fuel_pump.si + loads.others.si + loads.injectors * duty * kCoil_A +
                   sparks * kSpark_J / loads.volts.si};
  };
  Electric out;
  out.full = drawn(loads.speed, std::min(1.0, loads.duty));
  out.idle = drawn(loads.idle, kIdleDuty);
  out.rated_needed = Current{kInHand * std::max(out.full.si, out.idle.si / kIdleShare)};
  constexpr double kCubicInch_m3 = 16.387064e-6;
  out.battery_needed = Current{10 * std::ceil(loads.displacement.si / kCubicInch_m3 / 10)};
  if (loads.alternator) {
    const double a = loads.alternator->si;
    out.margin = std::min(a / out.full.si, kIdleShare * a / out.idle.si) - 1;
  }
  return out;
}

}  // namespace fuelwright::physics::limits
