// Limits beside the fuel, in words.
#include <fmt/format.h>

#include <cmath>

#include "service/size_words.h"

namespace fuelwright::service {
namespace {

using namespace physics::limits;

const char* name(car::Tappet t) {
  switch (t) {
    case car::Tappet::hydraulic_flat:
      return "hydraulic flat tappets";
    case car::Tappet::hydraulic_roller:
      return "hydraulic roller tappets";
    case car::Tappet::solid_flat:
      return "solid flat tappets";
    case car::Tappet::solid_roller:
      return "solid roller tappets";
    case car::Tappet::direct:
      return "direct overhead cams";
  }
  broken_contract("a known tappet", __FILE__, __LINE__);
}

std::string reason(LimitBy by, const car::Sheet& sheet) {
  switch (by) {
    case LimitBy::piston_speed:
      return "21 m/s of mean piston speed (street practice)";
    case LimitBy::breathing:
      return "power has fallen 5 % below its peak there (computed)";
    case LimitBy::valve_train:
      return fmt::format("{} follow their cam that far (practice)", name(sheet.cam.tappet.value));
    case LimitBy::wish:
      return "you stated it";
  }
  broken_contract("a known bound", __FILE__, __LINE__);
}

bool stated(car::Source s) { return s == car::Source::measured || s == car::Source::stated; }

std::string pressure(AbsolutePressure p) { return fmt::format("{:.0f} kPa", p.from_zero.in(kPa)); }

void rev(const car::Sheet& sheet, SaidLimits* out) {
  const RevLimit& r = out->rev;
  std::string line = fmt::format(
      "Rev limit: {:.0f} rpm hard, {:.0f} soft, because {}; {:.1f} m/s of mean piston speed.",
      r.hard.rpm, r.soft.rpm, reason(r.by, sheet), r.piston_speed.si);
  std::string others;
  for (const Bound& b : r.bounds) {
    if (b.by == r.by) continue;
    others += fmt::format("{} {:.0f} rpm ({:.0f} to {:.0f}): {}", others.empty() ? "" : ";",
                          b.rpm.middle, b.rpm.low, b.rpm.high, reason(b.by, sheet));
  }
  if (!others.empty()) line += " The others:" + others + ".";
  out->words.push_back(line);
  if (!r.stated_less_safe()) return;
  std::string beyond;
  if (r.beyond_racing) beyond += ", above racing practice (25 m/s of mean piston speed)";
  if (r.beyond_valve_train)
    beyond += fmt::format(", above what {} follow", name(sheet.cam.tappet.value));
  if (r.beyond_breathing) beyond += ", where power has long fallen";
  out->warnings.push_back(fmt::format(
      "You stated {:.0f} rpm, and it is kept: {:.1f} m/s of mean piston speed{}. {:.0f} rpm would "
      "be safer, because {}.",
      r.stated->rpm, r.stated_piston_speed.si, beyond, r.hard.rpm, reason(r.by, sheet)));
}

void sensor(const car::Sheet& sheet, SaidLimits* out) {
  const SensorRange& m = out->map_sensor;
  const auto& high = sheet.sensors.map_high;
  const std::string reads =
      fmt::format("{} to {}{}", pressure(sheet.sensors.map_low.value), pressure(high.value),
                  stated(high.source) ? "" : " (typical, not stated)");
  out->words.push_back(fmt::format("Manifold pressure sensor: reads {}; {} is expected at most{}.",
                                   reads, pressure(m.expected_high),
                                   m.high_enough && m.low_enough ? ": enough" : ""));
  if (!m.high_enough) {
    out->warnings.push_back(fmt::format(
        "The manifold pressure sensor ends at {}, below the {} that will be there: above its end "
        "the unit gives too little fuel. One that reads to {} is needed.",
        pressure(high.value), pressure(m.expected_high), pressure(m.needs_high)));
  }
  if (!m.low_enough) {
    out->warnings.push_back(
        fmt::format("The manifold pressure sensor begins at {}; on the overrun {} is reached.",
                    pressure(sheet.sensors.map_low.value), pressure(m.expected_low)));
  }
  constexpr double kCoarse_Pa = 80e3;
  if (m.lost.si > kCoarse_Pa) {
    out->words.push_back(
        fmt::format("  {:.0f} kPa of its range are never used: one to {} reads finer.",
                    m.lost.in(kPa), pressure(m.needs_high)));
  }
}

void knock(SaidLimits* out) {
  if (!out->knock) {
    out->words.push_back("Knock: not known; the engine of the sheet could not be computed.");
    return;
  }
  const advice::KnockRoom& k = *out->knock;
  const std::string with =
      fmt::format("compression {:.3g} and {:.0f} octane (RON)", k.compression, k.octane);
  if (k.limit_deg >= k.mbt_deg) {
    out->words.push_back(
        fmt::format("Knock: {} leave the best spark free at full throttle; nearest at {:.0f} rpm.",
                    with, k.speed.rpm));
  } else {
    std::string cure;
    if (k.octane_needed) cure += fmt::format(" {:.0f} octane", std::ceil(*k.octane_needed));
    if (k.compression_free)
      cure += fmt::format("{} compression {:.1f}", cure.empty() ? "" : " or", *k.compression_free);
    out->words.push_back(
        fmt::format("Knock: with {} it begins at {:.0f} \xC2\xB1{:.0f} deg at {:.0f} rpm, {:.0f} "
                    "deg before the "
                    "best spark; that costs {:.1f} % of the work there.{}",
                    with, k.limit_deg, k.limit_half_width_deg, k.speed.rpm, k.mbt_deg - k.limit_deg,
                    100 * k.torque_lost, cure.empty() ? "" : " Free of it with" + cure + "."));
  }
  if (k.too_much_compression()) {
    out->warnings.push_back(
        fmt::format("Only {:.0f} deg of spark are left at {:.0f} rpm before it knocks: too much "
                    "compression for "
                    "this fuel. The heat that is not turned into work goes into the exhaust.",
                    std::max(0.0, k.limit_deg), k.speed.rpm));
  }
}

void electric(SaidLimits* out) {
  const Electric& e = out->electric;
  out->words.push_back(fmt::format(
      "Electric load: about {:.0f} A at full throttle, {:.0f} A at idle, where an alternator gives "
      "half of its rating: {:.0f} A or more carry it (practice). A battery of {:.0f} A cold "
      "cranking "
      "starts such an engine (1 A a cubic inch, practice).",
      e.full.si, e.idle.si, std::ceil(e.rated_needed.si / 5) * 5, e.battery_needed.si));
}

// What was stated of the fuel and lies on the less safe side.
void stated_fuel(const car::Sheet& sheet, SaidLimits* out) {
  const auto& duty = sheet.supply.most_duty;
  constexpr double kPractice = 0.85, kLeanest = 0.92;
  if (stated(duty.source) && duty.value > kPractice) {
    out->warnings.push_back(
        fmt::format("You allow {:.0f} % duty, and it is kept: above 85 % (practice) an injector "
                    "that closes late "
                    "stays open, and fuel no longer follows the pulse.",
                    100 * duty.value));
  }
  const auto& mixture = sheet.wishes.full_throttle_mixture;
  if (stated(mixture.source) && mixture.value.value > kLeanest) {
    out->warnings.push_back(fmt::format(
        "You state {} at full throttle, and it is kept: leaner than lambda 0.92 is hard on pistons "
        "and valves at full load (practice).",
        car::format(mixture.value, sheet.wishes.scale.value)));
  }
}

}  // namespace

void say_limits(const car::Sheet& sheet, UnitSystem, SaidLimits* limits) {
  rev(sheet, limits);
  sensor(sheet, limits);
  knock(limits);
  electric(limits);
  stated_fuel(sheet, limits);
}

}  // namespace fuelwright::service
